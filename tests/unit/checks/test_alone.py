"""Whether lag screws will do without a plate."""

import numpy as np
import pytest

from trajplan.checks import LIMIT_NOTES, Limits, Verdict, screws_alone

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
