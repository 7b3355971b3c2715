"""The footprint of head and washer: rings and parts of rings with a closed form.

The part of a disc of radius r that lies beyond a line at distance a from its middle is
``r² acos(a/r) - a √(r² - a²)`` (the circular segment of every handbook).
"""

import numpy as np
import pytest
from builders import bone_of, catalogue, in_slab, level, screws_in, slab, zone_of
from specimens import box, cylinder

from trajplan.trajectory import head_footprint
from trajplan.trajectory._seat import SOFT_GAP

WASHER = catalogue().washers["13.0"]
HEAD, HOLE = 4.0, 2.25  # mm, radii of HA4.5
RING, BORE = WASHER.outer_diameter / 2.0, WASHER.inner_diameter / 2.0


def segment(radius, a):
    a = min(a, radius)
    return radius**2 * np.arccos(a / radius) - a * np.sqrt(radius**2 - a**2)


def test_a_flat_bears_on_the_whole_ring():
    assert head_footprint(slab(), in_slab()) == pytest.approx(np.pi * (HEAD**2 - HOLE**2))
    washered = in_slab(washers=(WASHER,))
    assert head_footprint(slab(), washered) == pytest.approx(np.pi * (RING**2 - BORE**2))


@pytest.mark.parametrize("a", [0.01, 1.0, 2.0, 3.0, 3.9, 5.0])
def test_an_edge_of_a_slab_takes_its_part_away(a):
    """At the axis half of the ring is left; the error is below the bound that the code states."""
    bone = bone_of(box((-40, -40, -20), (a, 40, 0)))
    screws = screws_in(bone, [[0, 0, 30]], [[0, 0, -1]], zones=level(slab(), 8.0))
    left = np.pi * (HEAD**2 - HOLE**2) - segment(HEAD, a) + segment(HOLE, a)
    (found,) = head_footprint(bone, screws)
    assert found == pytest.approx(left, abs=1.0)


def test_a_washer_on_a_round_bar_bears_on_a_strip():
    """Bar of radius R: it falls by the give g within a half-width of √(2 R g - g²)."""
    bone = bone_of(cylinder(20.0, 100.0, sides=512))
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-60, 0, 50]], [[1, 0, 0]], zones=zone, washers=(WASHER,))
    half = np.sqrt(2 * 20.0 * SOFT_GAP - SOFT_GAP**2)
    strip = np.pi * (RING**2 - BORE**2) - 2 * (segment(RING, half) - segment(BORE, half))
    assert half < RING
    assert head_footprint(bone, screws)[0] == pytest.approx(strip, rel=0.01)


def test_no_seat_no_footprint():
    bone = bone_of(cylinder(0.5, 60.0, 16))
    zone = zone_of(bone, [0, 0, 30], [0, 0, 1])
    screws = screws_in(bone, [[0, 0, 90]], [[0, 0, -1]], zones=zone)
    assert np.isnan(head_footprint(bone, screws)).all()
