"""Rule: what the drill meets behind the far wall."""

from dataclasses import replace

import numpy as np
import pytest
from builders import changed, in_slab, obstacle, words
from specimens import box, sphere

from trajplan.bone import Volume
from trajplan.checks import Limits, plunge

LIMITS = Limits()
#: The far wall of the slab.
WALL = 20.0


def behind(way, x=0.0, role="avoid"):
    """A block whose top lies ``way`` mm behind the far wall and whose near side stands at x."""
    low, high = (x, -30, -WALL - way - 5), (x + 30, 30, -WALL - way)
    return obstacle(box(low, high), name="nerve", role=role, clearance=1.0)


@pytest.mark.parametrize("role", ["avoid", "joint"])
@pytest.mark.parametrize(
    ("way", "word"),
    [(1.9, "fail"), (2.1, "caution"), (8.4, "caution"), (8.6, "pass"), (40.0, "pass")],
)
def test_way_behind_the_far_wall(way, word, role):
    """A block straight behind the hole: the round end of the drill meets its flat top on the
    axis, so the way is the block's own distance from the wall."""
    ruling = plunge(in_slab(), LIMITS, behind(way, x=-15.0, role=role))
    assert words(ruling) == [word]
    if word != "pass":
        assert ruling.measured == pytest.approx(way, abs=0.02)


@pytest.mark.parametrize(("x", "word"), [(1.5, "caution"), (1.7, "pass")])
def test_the_drill_is_as_wide_as_its_hole(x, word):
    """The thread hole of the 4.5 mm screw is 3.2 mm wide (the catalogue): 1.6 mm to its side."""
    assert words(plunge(in_slab(), LIMITS, behind(4.0, x=x))) == [word]


def test_a_slanted_hole_looks_along_its_own_axis():
    """At 30 degrees the axis leaves the wall at x = 20 tan 30 and goes on in that direction."""
    aside = (WALL + 5.0) * np.tan(np.radians(30.0))
    ball = obstacle(sphere(1.0, centre=(aside, 0, -WALL - 5.0)), role="avoid", clearance=1.0)
    assert words(plunge(in_slab(angle=30), LIMITS, ball)) == ["caution"]
    assert words(plunge(in_slab(angle=-30), LIMITS, ball)) == ["pass"]


def test_a_sharp_edge_at_each_limit():
    for way, name in ((8.5, "plunge"), (2.0, "plunge_least")):
        block = behind(way + 0.1, x=-15.0)
        (before,) = plunge(in_slab(), LIMITS, block).verdict
        (after,) = plunge(in_slab(), replace(LIMITS, **{name: way + 0.2}), block).verdict
        assert after > before


def test_a_blind_hole_does_not_go_through():
    screws = in_slab(kind="HB6.5", hold="unicortical")
    assert words(plunge(screws, LIMITS, behind(1.0, x=-15.0))) == [None]


def test_a_far_wall_within_an_obstacle():
    around = obstacle(box((-90, -90, -90), (90, 90, -5)), role="avoid", clearance=1.0)
    closed = replace(around, volume=Volume.of(around.surface))
    ruling = plunge(in_slab(), LIMITS, closed)
    assert (words(ruling), ruling.measured) == (["fail"], pytest.approx([0.0]))
    assert words(plunge(in_slab(), LIMITS, closed, measure=False)) == ["fail"]


def test_deciding_gives_the_verdicts_of_measuring():
    ball = obstacle(sphere(9.0, centre=(8, 3, -WALL - 10)), role="avoid", clearance=1.0)
    screws = in_slab(x=np.linspace(-35, 35, 141), angle=12)
    measured = words(plunge(screws, LIMITS, ball))
    assert words(plunge(screws, LIMITS, ball, measure=False)) == measured
    assert len(set(measured)) == 3


def test_doubts_and_misses():
    unsure = changed(in_slab(), "corridors", decided=False)
    assert words(plunge(unsure, LIMITS, behind(40.0))) == ["unknown"]
    assert words(plunge(unsure, LIMITS, behind(1.0, x=-15.0))) == ["fail"]
    assert words(plunge(in_slab(x=[90]), LIMITS, behind(1.0))) == [None]
    assert words(plunge(in_slab(x=[]), LIMITS, behind(1.0))) == []


def test_sentences_name_the_way_and_the_decision():
    (caution,) = plunge(in_slab(), LIMITS, behind(4.0, x=-15.0)).findings(["screw 1"])
    assert "4.0 mm behind the far wall" in caution.why
    assert "drill stop" in caution.why
    (fail,) = plunge(in_slab(), LIMITS, behind(1.0, x=-15.0)).findings(["screw 1"])
    assert "only 1.0 mm" in fail.why
    (clear,) = plunge(in_slab(), LIMITS, behind(40.0)).findings(["screw 1"])
    assert clear.measured is None
