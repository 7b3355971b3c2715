"""A gliding hole drilled by feel: past the near fragment's bone, and no deep way into the far."""

import numpy as np
import pytest
from builders import in_slab, screws_in, shaft, slab, zone_of

from trajplan.trajectory import Within
from trajplan.trajectory._felt import LANDING, felt_hole
from trajplan.trajectory._trajectory import _marrow


def felt(screws, plunge, within=Within.UNTOLD):
    marrow = _marrow(screws.corridors, screws.walls, np.full(len(screws), int(within)))
    every = np.full(len(screws), float(plunge))
    return felt_hole(screws.corridors, screws.crossing, marrow, every)


@pytest.mark.parametrize(("plunge", "end"), [(0.0, 8.0), (0.4, 8.4), (5.1, 8.0 + LANDING)])
def test_a_closed_fracture_in_solid_bone(plunge, end):
    """The far fragment lies behind the near one, and takes the drill no further than it lands."""
    assert felt(in_slab(20.0, 8.0), plunge) == pytest.approx([end], abs=1e-9)


def test_the_whole_width_of_the_drill_comes_through():
    zone = zone_of(slab(), [0, 0, -8], [0.3, 0, 1])
    assert felt(in_slab(zones=zone), 0.0) == pytest.approx([8 + 2.25 * 0.3], abs=1e-6)


def across_the_shaft(at):
    """Radii 14 and 9: a screw through the middle meets bone to 5, canal to 23, bone to 28."""
    bone = shaft(sides=512)
    zone = zone_of(bone, [at - 14.0, 0, 50], [1, 0, 0])
    return screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone)


def arc(radius):
    """How much shallower a wall of this radius lies beside the axis of a 4.5 mm screw."""
    return radius - np.sqrt(radius**2 - 2.25**2)


@pytest.mark.parametrize(("plunge", "end"), [(0.0, 5.0), (5.1, 10.1), (40.0, None)])
def test_in_a_canal_the_drill_is_felt_where_the_near_wall_ends(plunge, end):
    """The fracture lies at 14, in the canal, where nothing is felt."""
    far = 5.0 + 2.0 * 9.0 - arc(9.0)  # the far wall comes nearest beside the axis
    near = arc(9.0)  # and the near wall ends deepest beside it
    expected = far + LANDING if end is None else end + near
    assert felt(across_the_shaft(14.0), plunge) == pytest.approx([expected], abs=0.01)


def test_a_fracture_in_the_far_wall_is_drilled_through_to_there():
    assert felt(across_the_shaft(25.0), 0.3) == pytest.approx([25.3], abs=1e-6)


def test_what_is_taken_for_marrow_is_no_bone():
    screws = in_slab(20.0, 12.0, cortex=4.0)
    assert felt(screws, 2.0, Within.MARROW) == pytest.approx([6.0], abs=1e-6)
    assert felt(screws, 30.0, Within.MARROW) == pytest.approx([16.0 + LANDING], abs=1e-6)
    assert felt(screws, 30.0, Within.CANCELLOUS) == pytest.approx([12.0 + LANDING], abs=1e-6)


def test_without_a_crossing_nothing_is_felt():
    zone = zone_of(slab(), [15, 0, -5], [1, 0, 1])
    assert np.isnan(felt(in_slab(x=[0, 90], zones=zone), 1.0)).all()
    assert felt(in_slab(x=[]), 1.0).shape == (0,)
