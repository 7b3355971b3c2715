"""Holes: gliding, shank and thread hole, tap (diameters of the catalogue)."""

import numpy as np
import pytest
from builders import in_slab, screws_in, shaft, slab, zone_of

from trajplan.trajectory._holes import glide_depth

OBLIQUE = zone_of(slab(), [0, 0, -8], [0.3, 0, 1])


def test_full_thread_as_a_lag_screw():
    """Gliding hole 4.5 to where the last ring line has passed (8.675), rounded up to half a
    millimetre; thread hole 3.2 from there."""
    screws = in_slab(zones=OBLIQUE)
    holes, deep = screws.holes, 9.0
    assert deep >= 8 + 2.25 * 0.3
    assert (holes.gliding[0], holes.gliding_to[0]) == pytest.approx((4.5, deep))
    assert (holes.thread[0], holes.thread_from[0], holes.thread_to[0]) == pytest.approx(
        (3.2, deep, 20.0)
    )
    assert (holes.tap[0], holes.tap_from[0], holes.tap_to[0]) == pytest.approx((4.5, deep, 20.0))


def test_position_screw_has_a_thread_hole_all_the_way():
    holes = in_slab(technique="position").holes
    assert np.isnan([holes.gliding[0], holes.gliding_to[0]]).all()
    assert (holes.thread_from[0], holes.thread_to[0]) == pytest.approx((0.0, 20.0))


def test_partial_thread_glides_on_its_shank_through_the_near_cortex_alone():
    """Shank hole 4.5 through 4 mm of cortex; tapped there, and no further (soft bone)."""
    screws = in_slab(60.0, 20.0, kind="HB6.5", cortex=4.0)
    holes = screws.holes
    assert (holes.gliding[0], holes.gliding_to[0]) == pytest.approx((4.5, 4.0))
    bottom = screws.tip[0] + 1.0  # a blind hole is deeper than its screw
    assert (holes.thread_from[0], holes.thread_to[0]) == pytest.approx((4.0, bottom))
    assert (holes.tap_from[0], holes.tap_to[0]) == pytest.approx((0.0, 4.0))
    unknown = in_slab(60.0, 20.0, kind="HB6.5").holes
    assert unknown.gliding_to == pytest.approx(20.0)  # the near fragment where no cortex is known
    assert unknown.tap_to == pytest.approx(3 * 2.75)  # three turns; pitch from memory


def test_a_modelled_cortex_bounds_the_shank_hole():
    bone = shaft()
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    holes = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone, kind="HB4.0").holes
    assert np.isnan(holes.gliding[0])  # shank 2.3, thread hole 2.5: no hole of its own
    holes = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone, kind="HB6.5").holes
    assert (holes.gliding[0], holes.gliding_to[0]) == pytest.approx((4.5, 5.0))


def test_a_miss_has_no_holes():
    holes = in_slab(x=[90.0]).holes
    for name in holes.__slots__:
        assert np.isnan(getattr(holes, name)).all()


def test_a_gliding_hole_is_told_in_half_millimetres_and_never_short():
    """What lies past a step by less than a rounding of the computer is that step."""
    deep = np.array([18.0, 18.0 + 1e-10, 18.01, 18.49, 18.5, 18.51])
    assert glide_depth(deep) == pytest.approx([18.0, 18.0, 18.5, 18.5, 18.5, 19.0], abs=1e-12)
