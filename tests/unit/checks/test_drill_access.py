"""Rule: no bone stands in the way of the drill guide (8 mm wide, 60 mm free)."""

import numpy as np
import pytest
from builders import bone_of, in_slab, level, screws_in, slab, tilted, words
from specimens import box, joined

from trajplan.checks import Limits, drill_access

LIMITS = Limits()


def under(low, high, limits=LIMITS, angle=0.0):
    """Access to a slab below another piece of bone, from a point between the two."""
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), box(low, high)))
    direction = tilted(angle)
    start = -5.0 * direction
    screws = screws_in(bone, [start], [direction], zones=level(slab(), 8.0))
    return drill_access(screws, limits, bone)


def test_an_overhang_above_the_entry():
    ruling = under((-5, -5, 30), (5, 5, 35))
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(30.0)


def test_an_overhang_beside_the_axis_meets_the_guide_and_not_the_drill():
    assert words(under((3.0, -5, 30), (9, 5, 35))) == ["fail"]
    assert words(under((4.1, -5, 30), (9, 5, 35))) == ["pass"]


def test_an_overhang_past_the_guide_is_out_of_the_way():
    assert words(under((-5, -5, 61), (5, 5, 65))) == ["pass"]
    assert words(under((-5, -5, 60), (5, 5, 65))) == ["pass"]
    assert words(under((-5, -5, 59.9), (5, 5, 65))) == ["fail"]


def test_the_length_is_a_limit():
    overhang = (-5, -5, 30), (5, 5, 35)
    assert words(under(*overhang, Limits(guide_length=30.0))) == ["pass"]
    assert words(under(*overhang, Limits(guide_length=30.001))) == ["fail"]


def test_a_slanted_wall_is_not_in_its_own_way():
    for angle in (0, 30, 60):
        bone = slab(60.0)
        screws = in_slab(60.0, 8.0, angle=angle)
        assert words(drill_access(screws, LIMITS, bone)) == ["pass"]


@pytest.mark.parametrize("turn", [0.0, 15.0, 45.0])
def test_a_thin_flake_between_the_lines_is_met(turn):
    """0.2 mm thick, from 1 to 3.5 mm off the axis: no line of the rim or the axis crosses it."""
    vertices, faces = box((1.0, -0.1, 30), (3.5, 0.1, 35))
    a = np.radians(turn)
    about = np.array([[np.cos(a), np.sin(a), 0], [-np.sin(a), np.cos(a), 0], [0, 0, 1]])
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), (vertices @ about, faces)))
    screws = screws_in(bone, [[0, 0, 5.0]], [[0, 0, -1]], zones=level(slab(), 8.0))
    ruling = drill_access(screws, LIMITS, bone)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(30.0)


def test_a_flake_beside_the_guide_is_not_in_its_way():
    for near, word in ((3.99, "fail"), (4.01, "pass")):
        bone = bone_of(
            joined(box((-40, -40, -20), (40, 40, 0)), box((near, -0.1, 30), (9, 0.1, 35)))
        )
        screws = screws_in(bone, [[0, 0, 5.0]], [[0, 0, -1]], zones=level(slab(), 8.0))
        assert words(drill_access(screws, LIMITS, bone)) == [word]


def test_misses():
    assert words(drill_access(in_slab(x=[90]), LIMITS, slab())) == [None]
    assert words(drill_access(in_slab(x=[]), LIMITS, slab())) == []
