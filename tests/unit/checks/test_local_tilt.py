"""Rule: the axis stands square on the fracture surface where it crosses it."""

import numpy as np
import pytest
from builders import grid, in_slab, level, slab, words

from trajplan.checks import Limits, local_tilt
from trajplan.fracture import zones_from_patch

LIMITS = Limits()
SLIDE = LIMITS.slide_angle


def slope(degrees):
    return lambda x, y: -8.0 + np.tan(np.radians(degrees)) * x


def bowl(x, y):
    """Level in the middle, 30 degrees off the level at x = 12."""
    return -8.0 - np.tan(np.radians(30.0)) * x**2 / 24.0


def surfaced(height, most=1, wide=60.0):
    zones, _ = zones_from_patch(None, grid(height, 61, wide), most=most)
    return zones


def ruled(height, **options):
    zones = surfaced(height)
    return local_tilt(in_slab(zones=zones, **options), LIMITS, zones)


@pytest.mark.parametrize(
    ("angle", "word"),
    [
        (0, "pass"),
        (19.9, "pass"),
        (20.1, "caution"),
        (SLIDE - 0.1, "caution"),
        (SLIDE + 0.1, "fail"),
    ],
)
def test_on_a_flat_surface_it_is_the_tilt(angle, word):
    ruling = ruled(slope(angle))
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(angle, abs=1e-5)


def test_on_a_curved_surface_each_place_has_its_own():
    """The zone's one normal would pass both: no screw stands off it at all."""
    zones = surfaced(bowl)
    screws = in_slab(zones=zones, x=[0.0, 12.0])
    ruling = local_tilt(screws, LIMITS, zones)
    assert screws.crossing.tilt == pytest.approx([0.0, 0.0], abs=0.01)
    assert words(ruling) == ["pass", "fail"]
    assert ruling.measured == pytest.approx([0.0, 30.0], abs=0.7)
    assert ruling.limit[1] == pytest.approx(SLIDE)
    assert "fracture surface round its crossing" in ruling.findings("ab")[1].why


def test_a_plane_has_no_surface():
    assert words(local_tilt(in_slab(), LIMITS, (level(slab(), 8.0),))) == [None]


def test_too_little_surface_is_unknown():
    zones, _ = zones_from_patch(
        None, grid(slope(0.0), 61, 60.0, skip=lambda x, y: np.hypot(x, y) < 20.0), most=1
    )
    assert words(local_tilt(in_slab(zones=zones), LIMITS, zones)) == ["unknown"]


def test_position_screws_and_misses_are_left_out():
    assert words(ruled(slope(30.0), technique="position")) == [None]
    assert words(ruled(slope(30.0), x=[90.0])) == [None]
    assert words(ruled(slope(30.0), x=[])) == []
