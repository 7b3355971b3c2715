"""Rule: the drill meets the surface squarely enough."""

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, screws_in, words, zone_of
from specimens import cylinder

from trajplan.checks import Limits, entry_angle

LIMITS = Limits()


@pytest.mark.parametrize(
    ("angle", "word"), [(0, "pass"), (29, "pass"), (31, "caution"), (59, "caution"), (61, "fail")]
)
def test_angle_on_a_flat_wall(angle, word):
    ruling = entry_angle(in_slab(angle=angle), LIMITS)
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(angle, abs=1e-3)


def test_at_the_limits():
    screws = changed(in_slab(x=np.zeros(5)), entry_angle=[30, 30.001, 60, 60.001, np.nan])
    ruling = entry_angle(screws, LIMITS)
    assert words(ruling) == ["pass", "caution", "caution", "fail", "unknown"]


def test_part_of_the_rim_misses_the_bone():
    bone = bone_of(cylinder(10.0, 100.0))
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 9.5, 50]], [[1, 0, 0]], zones=zone)
    assert words(entry_angle(screws, LIMITS)) == ["unknown"]


def test_misses():
    assert words(entry_angle(in_slab(x=[90]), LIMITS)) == [None]
    assert words(entry_angle(in_slab(x=[]), LIMITS)) == []
