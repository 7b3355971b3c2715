"""Whether lag screws will do without a plate, a buttress or a tension band."""

import numpy as np
import pytest
from builders import case_of
from specimens import tube

from trajplan.checks import (
    LIMIT_NOTES,
    Limits,
    Verdict,
    end_alone,
    holds_rotation,
    pulled_apart,
    screws_alone,
)
from trajplan.planner import plan_case

LIMITS = Limits()


def test_long_fracture_of_a_small_bone_passes():
    """Published: twice the bone's diameter and two screws (online surgery reference)."""
    found = screws_alone(18.0, 8.0, 2, LIMITS)
    assert (found.rule, found.subject, found.verdict) == ("screws_alone", "plan", Verdict.PASS)
    assert found.measured == pytest.approx(2.25)
    assert (found.limit, found.unit) == (2.0, "bone diameters")
    assert "2.2 bone diameters long, with 2 lag screws" in found.why
    assert "metacarpal" in found.source
    assert "Wheeless" in found.source


def test_just_twice_the_diameter_passes():
    assert screws_alone(16.0, 8.0, 2, LIMITS).verdict is Verdict.PASS


@pytest.mark.parametrize(("length", "diameter"), [(15.9, 8.0), (8.0, 8.0), (40.0, 28.0)])
def test_short_fracture_is_cautioned(length, diameter):
    found = screws_alone(length, diameter, 2, LIMITS)
    assert found.verdict is Verdict.CAUTION
    assert "less than 2.0" in found.why
    assert "lag screws alone are not enough: a protecting plate is the usual answer" in found.why


@pytest.mark.parametrize(("count", "word"), [(1, "one lag screw"), (0, "no lag screw")])
def test_one_screw_is_cautioned(count, word):
    found = screws_alone(30.0, 8.0, count, LIMITS)
    assert found.verdict is Verdict.CAUTION
    assert word in found.why
    assert "plate" in found.why


def test_long_fracture_of_a_large_bone_is_cautioned():
    found = screws_alone(100.0, 28.0, 3, LIMITS)
    assert found.verdict is Verdict.CAUTION
    assert "large long bone (28 mm across)" in found.why
    assert "plate is usual" in found.why


@pytest.mark.parametrize(
    ("length", "diameter"), [(np.nan, np.nan), (30.0, np.nan), (np.nan, 8.0), (30.0, 0.0)]
)
def test_no_shaft_is_unknown(length, diameter):
    found = screws_alone(length, diameter, 2, LIMITS)
    assert found.verdict is Verdict.UNKNOWN
    assert found.measured is None
    assert "no shaft" in found.why


def test_limits_are_settings():
    strict = Limits(alone_length=3.0)
    assert screws_alone(20.0, 8.0, 2, strict).verdict is Verdict.CAUTION
    assert "less than 3.0" in screws_alone(20.0, 8.0, 2, strict).why
    wide = Limits(alone_diameter=40.0)
    assert screws_alone(100.0, 28.0, 3, wide).verdict is Verdict.PASS
    assert {"alone_length", "alone_diameter"} <= set(LIMIT_NOTES)


PROTECTIONS = ("none", "plate", "cast", "buttress", "tension band")


def passing(judge):
    """What protects the screws well enough."""
    return {said for said in PROTECTIONS if judge(protection=said).verdict is Verdict.PASS}


def test_what_protects_a_short_fracture():
    """Published: a shorter fracture takes a lag screw and a protection plate; a cast holds none."""
    assert passing(lambda **said: screws_alone(8.0, 8.0, 2, LIMITS, **said)) == {
        "plate",
        "buttress",
    }
    assert passing(lambda **said: screws_alone(30.0, 8.0, 1, LIMITS, **said)) == {
        "plate",
        "buttress",
    }
    found = screws_alone(8.0, 8.0, 2, LIMITS, protection="plate")
    assert found.why == "The screws are protected by a plate, as the case says."


def test_what_spares_the_screws_of_a_long_fracture_of_a_large_bone():
    assert passing(lambda **said: screws_alone(100.0, 28.0, 3, LIMITS, **said)) == {
        "plate",
        "buttress",
        "cast",
    }


def test_a_caution_names_the_decision():
    found = screws_alone(8.0, 8.0, 2, LIMITS)
    assert found.why.endswith(
        "Decide on it, or name in screws.protection what protects the screws."
    )


def test_poor_bone_wants_a_plate_whatever_its_shape():
    """AO Foundation, malleoli, lag screws: good bone, else a buttress plate."""
    shaft, end = (
        "In a shaft a protecting plate with screws locked",
        "At a bone end a buttress plate",
    )
    for judge, words in (
        (lambda **said: screws_alone(18.0, 8.0, 2, LIMITS, poor=True, **said), shaft),
        (lambda **said: screws_alone(np.nan, np.nan, 2, LIMITS, poor=True, **said), end),
        (lambda **said: end_alone(2, poor=True, **said), end),
    ):
        assert judge().verdict is Verdict.CAUTION
        assert words in judge().why
        assert passing(judge) == {"plate", "buttress"}


def test_two_screws_hold_a_sound_bone_end():
    """AO Foundation, malleoli, lag screws: two or three alone where the bone is good."""
    assert [end_alone(n).verdict for n in (0, 1, 2, 3)] == [
        Verdict.CAUTION,
        Verdict.CAUTION,
        Verdict.PASS,
        Verdict.PASS,
    ]
    assert (end_alone(2).measured, end_alone(2).limit, end_alone(2).unit) == (2.0, 2.0, "screws")
    assert "One lag screw holds it" in end_alone(1).why


def test_who_names_a_plate_need_not_tell_the_shape():
    found = screws_alone(np.nan, np.nan, 2, LIMITS, protection="plate")
    assert found.verdict is Verdict.PASS
    assert screws_alone(np.nan, np.nan, 2, LIMITS).verdict is Verdict.UNKNOWN
    assert "bone.place" in screws_alone(np.nan, np.nan, 2, LIMITS).why


def test_a_pull_wants_a_tension_band():
    """A kneecap broken across is wired as a tension band (doi 10.1186/s12891-018-2092-9, read)."""
    assert pulled_apart(pulled=False) is None
    found = pulled_apart(pulled=True)
    assert (found.rule, found.verdict) == ("pulled_apart", Verdict.CAUTION)
    assert "A tension band" in found.why
    assert passing(lambda **said: pulled_apart(pulled=True, **said)) == {"tension band", "plate"}


def test_a_plate_stops_turning_too():
    assert holds_rotation(1).verdict is Verdict.CAUTION
    assert holds_rotation(1, protection="plate").verdict is Verdict.PASS
    assert holds_rotation(1, protection="cast").verdict is Verdict.CAUTION


def found_in(**tables):
    plan = plan_case(case_of(**tables), bone=tube(sides=32))
    return {finding.rule: finding for finding in plan.findings}


@pytest.mark.parametrize(
    ("tables", "verdict", "words"),
    [
        ({}, Verdict.CAUTION, "less than 2.0"),
        ({"bone": {"place": "end"}}, Verdict.PASS, "bone end"),
        ({"mechanics": {"bone": "poor"}}, Verdict.CAUTION, "fixed angles"),
        ({"screws": {"protection": "plate"}}, Verdict.PASS, "by a plate, as the case says"),
        ({"screws": {"count": 1}, "bone": {"place": "end"}}, Verdict.CAUTION, "One lag screw"),
    ],
)
def test_what_the_case_says_reaches_the_plan(tables, verdict, words):
    """The oblique fracture of a tube of 28 mm, 1.7 diameters long."""
    found = found_in(**tables)["screws_alone"]
    assert found.verdict is verdict
    assert words in found.why


def test_near_an_end_nobody_guesses_what_is_broken():
    plane = {"plane": {"point": [0, 0, 90], "normal": [0.866, 0, 0.5]}}
    near = found_in(fracture=plane)["screws_alone"]
    assert near.verdict is Verdict.UNKNOWN
    said = found_in(fracture=plane, bone={"place": "shaft"})["screws_alone"]
    assert said.verdict is Verdict.CAUTION


def test_a_pull_reaches_the_plan():
    plane = {"plane": {"point": [0, 0, 50], "normal": [0.866, 0, 0.5]}, "pulled_apart": True}
    assert found_in(fracture=plane)["pulled_apart"].verdict is Verdict.CAUTION
