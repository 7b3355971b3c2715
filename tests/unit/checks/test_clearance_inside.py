"""A screw wholly inside a closed obstacle meets none of its surface, and fails all the same."""

from dataclasses import replace

import numpy as np
import pytest
from builders import in_slab, obstacle
from specimens import box, open_box

from trajplan.bone import Volume, as_surface
from trajplan.checks import Verdict, clearance, too_near

AROUND = box((-50, -50, -80), (50, 50, 60))


@pytest.mark.parametrize("rule", [clearance, too_near])
def test_screw_inside_a_closed_obstacle_fails(rule):
    screws = in_slab(20.0, 8.0, x=(0.0, 5.0))
    bare = obstacle(AROUND, role="avoid", clearance=5.0)
    assert rule(screws, bare).verdict.tolist() == [Verdict.PASS] * 2  # its surface is far away
    filled = replace(bare, volume=Volume.of(bare.surface))
    assert rule(screws, filled).verdict.tolist() == [Verdict.FAIL] * 2


def test_depth_inside_counts_negative():
    screws = in_slab(20.0, 8.0)
    filled = replace(obstacle(AROUND, role="avoid"), volume=Volume.of(as_surface(AROUND)))
    assert clearance(screws, filled).measured[0] < -40.0


def test_an_open_surface_encloses_nothing():
    volume = Volume.of(as_surface(open_box(40.0)))
    assert volume.contains(np.zeros((1, 3))).tolist() == [False]
    assert Volume.of(as_surface(box((-1, -1, -1), (1, 1, 1)))).contains(
        np.array([[0.0, 0, 0], [0, 0, 2]])
    ).tolist() == [True, False]
