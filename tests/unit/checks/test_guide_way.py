"""Rule: the drill guide (8 mm wide, 60 mm long) passes clear of what must be kept."""

from dataclasses import replace

import numpy as np
import pytest
from builders import changed, in_slab, obstacle, wires, words
from specimens import box, sphere

from trajplan.bone import Volume
from trajplan.checks import Limits, guide_way

LIMITS = Limits()


def nerve(low, high, role="avoid", clearance=8.0):
    return obstacle(box(low, high), name="nerve", role=role, clearance=clearance)


def beside(x, **options):
    """A block whose near side stands ``x`` mm off the axis, 20 to 30 mm above the entry."""
    return nerve((x, -5, 20), (x + 9, 5, 30), **options)


@pytest.mark.parametrize(
    ("x", "word"),
    [(3.9, "fail"), (4.0, "caution"), (11.9, "caution"), (12.0, "pass"), (40.0, "pass")],
)
def test_what_must_be_avoided(x, word):
    """The guide's side is 4 mm off its axis, and 8 mm are to be kept."""
    ruling = guide_way(in_slab(), LIMITS, beside(x))
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(x - 4.0)


@pytest.mark.parametrize(("x", "word"), [(3.9, "fail"), (4.0, "pass"), (6.0, "pass")])
def test_a_joint_surface_need_only_not_be_met(x, word):
    assert words(guide_way(in_slab(), LIMITS, beside(x, role="joint"))) == [word]


def test_both_ends_of_the_guide():
    """It ends flat: what lies past either end on its axis is as far off as the end."""
    for low, high, gap in ((-9, -1, 1.0), (59, 70, None), (61.5, 70, 1.5)):
        ruling = guide_way(in_slab(), LIMITS, nerve((-3, -3, low), (3, 3, high)))
        if gap is None:
            assert words(ruling) == ["fail"]
        else:
            assert ruling.measured == pytest.approx(gap)
    thin = nerve((-9, -9, 30.0), (9, 9, 30.001))
    assert words(guide_way(in_slab(), LIMITS, thin)) == ["fail"]


def test_size_of_the_guide_is_a_limit():
    block = nerve((-3, -3, 40), (3, 3, 50))
    assert words(guide_way(in_slab(), Limits(guide_length=32.0), block)) == ["pass"]
    assert words(guide_way(in_slab(), Limits(guide_length=40.1), block)) == ["fail"]
    assert words(guide_way(in_slab(), Limits(guide_diameter=2.0), beside(3.9))) == ["caution"]


def test_a_guide_within_an_obstacle_meets_it():
    around = nerve((-90, -90, -90), (90, 90, 90))
    assert words(guide_way(in_slab(), LIMITS, around)) == ["pass"]  # an open patch holds nothing
    closed = replace(around, volume=Volume.of(around.surface))
    for measure in (True, False):
        assert words(guide_way(in_slab(), LIMITS, closed, measure=measure)) == ["fail"]


@pytest.mark.parametrize("role", ["avoid", "joint"])
def test_deciding_gives_the_verdicts_of_measuring(role):
    block = obstacle(sphere(9.0, centre=(8, 3, 30)), role=role, clearance=6.0)
    for screws in (in_slab(x=np.linspace(-35, 35, 71), angle=12), wires(x=np.linspace(-35, 35, 9))):
        measured = words(guide_way(screws, LIMITS, block))
        assert words(guide_way(screws, LIMITS, block, measure=False)) == measured
    assert len(set(measured)) > 1


def test_doubts_and_misses():
    unsure = changed(in_slab(), "corridors", decided=False)
    assert words(guide_way(unsure, LIMITS, beside(40.0))) == ["unknown"]
    assert words(guide_way(unsure, LIMITS, beside(0.0))) == ["fail"]
    assert words(guide_way(in_slab(x=[90]), LIMITS, beside(40.0))) == [None]
    assert words(guide_way(in_slab(x=[]), LIMITS, beside(40.0))) == []
