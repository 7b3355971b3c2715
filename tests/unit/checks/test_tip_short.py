"""Rule: the tip of a unicortical screw stops short of the far wall."""

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, level, screws_in, shaft, slab, words, zone_of
from specimens import box, joined

from trajplan.checks import Limits, tip_short

LIMITS = Limits()


def soft(thickness=60.0, fracture=20.0, **options):
    return in_slab(thickness, fracture, kind="HB6.5", **options)


def test_the_shortest_that_holds_stops_far_short():
    """A thread of 16 mm that begins 2 mm past a fracture at 20 ends at 38: 40 is stocked."""
    screws = soft()
    assert screws.length == pytest.approx(40.0)
    ruling = tip_short(screws, LIMITS)
    assert words(ruling) == ["pass"]
    assert ruling.measured == pytest.approx(58 - 40.6928, abs=1e-3)


def test_an_assumed_cortex_takes_its_thickness_off_the_room():
    assert soft(cortex=4.0).room == pytest.approx(54.0)
    slanted = soft(cortex=4.0, angle=20)
    chord, lift = 60 / np.cos(np.radians(20)), 3.25 * np.tan(np.radians(20))
    assert slanted.room == pytest.approx(chord - lift - 4 / np.cos(np.radians(20)) - 2, abs=1e-3)


def test_a_modelled_far_cortex_is_not_touched():
    bone = shaft()
    zone = zone_of(bone, [-8, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone, hold="unicortical")
    # far wall at 23 on the axis, and earlier on the ring: the canal is round
    assert screws.room == pytest.approx(14 + np.sqrt(81 - 2.25**2) - 2, abs=0.05)
    assert words(tip_short(screws, LIMITS)) == ["pass"]


@pytest.mark.parametrize("gap", [0.0, 1.0])
def test_two_fragments_are_one_wall(gap):
    """The far fragment begins at the fracture, which is not the far cortex."""
    parts = joined(box((-40, -40, -20), (40, 40, 0)), box((-40, -40, -60), (40, 40, -20 - gap)))
    screws = screws_in(
        bone_of(parts), [[0, 0, 9]], [[0, 0, -1]], zones=level(slab(60.0), 20.0), kind="HB6.5"
    )
    assert screws.room == pytest.approx(58.0)
    assert words(tip_short(screws, LIMITS)) == ["pass"]


def test_no_stocked_length_is_short_enough():
    ruling = tip_short(soft(25.0, 8.0), LIMITS)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(23 - 30.6928, abs=1e-3)


def test_at_the_limit():
    screws = soft(x=np.zeros(4))
    screws = changed(screws, tip=screws.room - [1.0, 0.0, -0.001, np.nan])
    assert words(tip_short(screws, LIMITS)) == ["pass", "pass", "fail", "unknown"]


def test_a_far_wall_that_is_not_there_is_no_pass():
    vertices, faces = box((-40, -40, -60), (40, 40, 0))
    bone = bone_of((vertices, np.delete(faces, [8, 9], axis=0)))
    screws = screws_in(bone, [[0, 0, 9]], [[0, 0, -1]], zones=level(slab(60.0), 20.0), kind="HB6.5")
    assert words(tip_short(screws, LIMITS)) == ["unknown"]


def test_bicortical_screws_and_misses_are_left_out():
    assert words(tip_short(in_slab(), LIMITS)) == [None]
    assert words(tip_short(soft(x=[90]), LIMITS)) == [None]
    assert words(tip_short(soft(x=[]), LIMITS)) == []
