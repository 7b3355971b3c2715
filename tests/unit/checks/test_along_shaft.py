"""Rule: a screw does not run along the shaft."""

from dataclasses import replace

import numpy as np
import pytest
from builders import bone_of, changed, screws_in, shaft, tilted, words, zone_of
from specimens import cylinder

from trajplan.bone import shaft_axis
from trajplan.checks import Limits, Surroundings, along_shaft, screw_rulings

LIMITS = Limits()
DIAMETER = 28.0


def axis():
    return replace(shaft_axis(shaft().surface), diameter=DIAMETER)


def from_the_end(angle=0.0, height=100.0, tip=None):
    """Screws into the upper end of a shaft 100 mm long, ``angle`` degrees off its axis."""
    direction = tilted(angle)
    entry = np.array([-4.0, 0.0, height])
    zone = zone_of(shaft(), [0, 0, 80], [0, 0, 1])
    screws = screws_in(shaft(), [entry - 9.0 * direction], [direction], zones=zone)
    return screws if tip is None else changed(screws, tip=tip)


@pytest.mark.parametrize(
    ("diameters", "word"),
    [(1.0, "pass"), (2.0, "pass"), (2.001, "caution"), (3.0, "caution"), (3.001, "fail")],
)
def test_length_along_the_shaft(diameters, word):
    screws = from_the_end(tip=diameters * DIAMETER)
    ruling = along_shaft(screws, LIMITS, axis())
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(diameters)
    assert ruling.limit == pytest.approx(3.0 if word == "fail" else 2.0)


def test_the_bone_ends_the_way_of_a_longer_screw():
    """From end to end 100 mm, over 28 mm: 3.6 diameters, however long the screw is."""
    ruling = along_shaft(from_the_end(), LIMITS, axis())
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(100.0 / DIAMETER)
    assert "0 degrees off its length" in ruling.findings("a")[0].why


@pytest.mark.parametrize(("angle", "word"), [(0, "fail"), (29.9, "fail"), (30.1, "pass")])
def test_angle_to_the_shaft(angle, word):
    """What crosses the shaft may be as long as it likes: a wide bone, a flat angle."""
    screws = from_the_end(angle, tip=100.0)
    screws = changed(screws, "corridors", exit=100.0)
    assert words(along_shaft(screws, LIMITS, axis())) == [word]
    assert words(along_shaft(screws, Limits(along_angle=angle), axis())) == ["pass"]


def test_an_axis_upwards_runs_along_the_shaft_too():
    screws = screws_in(
        shaft(), [[4.0, 0, -9]], [[0, 0, 1]], zones=zone_of(shaft(), [0, 0, 20], [0, 0, 1])
    )
    assert words(along_shaft(screws, LIMITS, axis())) == ["fail"]


def test_an_open_surface_on_the_way_is_unknown():
    screws = changed(from_the_end(tip=40.0), "corridors", decided=False)
    assert words(along_shaft(screws, LIMITS, axis())) == ["unknown"]
    across = changed(from_the_end(60.0), "corridors", decided=False)
    assert words(along_shaft(across, LIMITS, axis())) == ["pass"]
    # past the limit it fails whatever the doubt
    screws = changed(from_the_end(tip=90.0), "corridors", decided=False)
    assert words(along_shaft(screws, LIMITS, axis())) == ["fail"]


def test_a_bone_without_a_shaft_and_misses_are_left_out():
    stump = shaft_axis(bone_of(cylinder(radius=14.0, length=40.0)).surface)
    assert not stump.found
    assert words(along_shaft(from_the_end(), LIMITS, stump)) == [None]
    missing = screws_in(
        shaft(), [[90.0, 0, 0]], [[0, 0, 1]], zones=zone_of(shaft(), [0, 0, 50], [0, 0, 1])
    )
    assert words(along_shaft(missing, LIMITS, axis())) == [None]


def test_the_sentence_says_what_is_measured_and_against_what():
    lengthwise = from_the_end(20.0, tip=[1.5 * DIAMETER])
    (short,) = along_shaft(lengthwise, LIMITS, axis()).findings("a")
    assert short.why == (
        "The screw runs along the shaft, 20.0 degrees off its length: a way of 1.5 shaft "
        "diameters in the bone (up to 2 without a caution)."
    )
    (long,) = along_shaft(from_the_end(tip=[2.5 * DIAMETER]), LIMITS, axis()).findings("a")
    assert "a way of 2.5 shaft diameters in the bone, longer than 2.0 shaft diameters" in long.why
    (across,) = along_shaft(from_the_end(60.0), LIMITS, axis()).findings("a")
    assert across.why == (
        "The screw crosses the shaft, 60.0 degrees off its length (under 30 it would run along it)."
    )
    assert (across.measured, across.limit) == (None, None)


def test_each_row_has_its_own_words():
    ways = np.array([tilted(60.0), tilted(10.0), tilted(10.0)])
    start = np.array([-4.0, 0.0, 100.0]) - 9.0 * ways
    zone = zone_of(shaft(), [0, 0, 80], [0, 0, 1])
    screws = changed(screws_in(shaft(), start, ways, zones=zone), tip=[20.0, 28.0, 84.1])
    told = [f.why.split(" degrees")[0] for f in along_shaft(screws, LIMITS, axis()).findings("abc")]
    assert told == [
        "The screw crosses the shaft, 60.0",
        "The screw runs along the shaft, 10.0",
        "The screw runs along the shaft, 10.0",
    ]


def test_a_screw_of_a_bone_end_may_run_along_the_shaft():
    """A screw up the ankle's inner bone, or along a neck, does by design: common practice."""
    screws = from_the_end(tip=4.0 * DIAMETER)
    zones = (zone_of(shaft(), [0, 0, 80], [0, 0, 1]),)
    around = Surroundings(shaft(), zones, (), None, shaft=axis())
    judged = {ruling.rule: ruling for ruling in screw_rulings(screws, LIMITS, around)}
    assert words(judged["along_shaft"]) == ["fail"]
    said = screw_rulings(screws, LIMITS, replace(around, end=True))
    assert "along_shaft" not in {ruling.rule for ruling in said}


def test_screws_along_a_femoral_neck_cross_the_shaft():
    """Neck to shaft 130 degrees (common practice): 50 degrees off the shaft's length."""
    ruling = along_shaft(from_the_end(50.0, tip=4.0 * DIAMETER), LIMITS, axis())
    assert words(ruling) == ["pass"]
