"""Rule: the whole cylinder stays inside the outer wall."""

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, level, screws_in, slab, words, zone_of
from specimens import box, cylinder, lathe, pipe

from trajplan.checks import Limits, wall_breach
from trajplan.checks._wall import _round_wall

LIMITS = Limits()
BAR = bone_of(cylinder(10.0, 100.0))


def across(*offsets):
    """Screws across a bar of radius 10, at a distance from its middle line."""
    start = [[-40.0, y, 50.0] for y in offsets]
    zone = zone_of(BAR, [0, 0, 50], [1, 0, 0])
    return screws_in(BAR, start, np.tile([1.0, 0, 0], (len(start), 1)), zones=zone)


def test_through_the_middle_and_grazing_the_side():
    """Radius 2.25: past an offset of 7.75 part of the cylinder lies outside the circle."""
    ruling = wall_breach(across(0.0, 4.0, 6.0, 8.0, 9.5, 12.0), LIMITS)
    assert words(ruling) == ["pass", "pass", "pass", "fail", "fail", None]
    assert ruling.measured[4] == pytest.approx(2 * np.sqrt(10**2 - 9.5**2), abs=0.1)


def test_a_slanted_flat_wall_is_no_breach():
    assert words(wall_breach(in_slab(angle=59), LIMITS)) == ["pass"]


def test_a_groove_that_the_ring_alone_meets():
    """A neck of radius 6 over 4 mm: the axis at x = 5 stays in, a line at x = 7.25 does not."""
    bone = bone_of(lathe((10, 10, 6, 6, 10, 10), (0, 40, 40, 44, 44, 80)))
    zone = zone_of(bone, [0, 0, 20], [0, 0, 1])
    screws = screws_in(bone, [[0, 0, 99], [5, 0, 99]], np.tile([0.0, 0, -1], (2, 1)), zones=zone)
    ruling = wall_breach(screws, LIMITS)
    assert words(ruling) == ["pass", "fail"]
    assert ruling.measured == pytest.approx([0, 4], abs=1e-6)
    assert not screws.corridors.leaves.any()
    assert words(wall_breach(screws, Limits(breach=4.0))) == ["pass", "pass"]
    assert words(wall_breach(screws, Limits(breach=3.99))) == ["pass", "fail"]


def test_an_open_canal_is_inside():
    bone = bone_of(pipe())
    screws = screws_in(
        bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone_of(bone, [0, 0, 50], [1, 0, 0])
    )
    assert words(wall_breach(screws, LIMITS)) == ["pass"]


def test_an_open_mesh_is_unknown_and_not_a_breach():
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    screws = screws_in(
        bone_of((vertices, faces[:-2])), [[0, 0, 9]], [[0, 0, -1]], zones=level(slab(), 8.0)
    )
    assert words(wall_breach(screws, LIMITS)) == ["unknown"]


def test_no_screw():
    assert words(wall_breach(across(), LIMITS)) == []


def test_a_screw_that_ends_in_bone_is_followed_to_its_tip():
    """Radius 10 down to 40 mm, 6 below: at x = 5 a thread of 6.5 mm comes out there and not above.

    Whether the tip gets there decides; the axis itself stays in bone for 100 mm.
    """
    bone = bone_of(lathe((6, 6, 10, 10), (0, 60, 60, 100)))
    zone = zone_of(bone, [0, 0, 90], [0, 0, 1])
    blind = screws_in(bone, [[5, 0, 130]], [[0.0, 0, -1]], zones=zone, kind="HB6.5")
    assert blind.tip[0] < 40.0
    assert words(wall_breach(blind, LIMITS)) == ["pass"]
    ruling = wall_breach(changed(blind, tip=55.0), LIMITS)
    assert words(ruling) == ["fail"]
    assert ruling.measured[0] == pytest.approx(55.0 - 40.0, abs=0.1)


def test_what_a_round_wall_is_allowed():
    """A quarter of radius and squared slope, and half a millimetre; no slope past 60 degrees."""
    allowed = _round_wall(np.full(4, 2.25), np.array([0.0, 45.0, 60.0, 80.0]))
    assert allowed == pytest.approx([0.5, 1.0625, 2.1875, 2.1875])


@pytest.mark.parametrize(("bone", "angle"), [(12.0, 0.0), (8.0, 0.0), (12.0, 30.0), (12.0, 45.0)])
def test_round_bones_depart_from_a_flat_wall_by_less(bone, angle):
    """Closed form: lines of a ring of 2.25 mm, tilted across the bone, meet a circle."""
    turn, lean = np.linspace(0.0, 2.0 * np.pi, 721), np.radians(angle)
    across, along = 2.25 * np.cos(turn), 2.25 * np.sin(turn)  # along the bone nothing changes
    way = np.array([-np.cos(lean), np.sin(lean)])  # at (bone, 0), the normal being (1, 0)
    start = np.array([bone, 0.0]) + across[:, None] * [np.sin(lean), np.cos(lean)]
    middle = start @ way
    depth = -middle - np.sqrt(middle**2 - (start**2).sum(axis=1) + bone**2)
    flat = np.column_stack([np.ones_like(turn), across, along])
    off = depth - flat @ np.linalg.lstsq(flat, depth, rcond=None)[0]
    assert off.max() < _round_wall(np.array([2.25]), np.array([angle]))[0]
