"""Rule: a shaft broken straight across is no lag screw's; the reason, and what presses it.

Situations and their teaching:

* Ulna or tibia broken straight across: axial compression by a plate, no lag screw (AO Foundation,
  online surgery reference, distal ulna, compression plate, read).
* Oblique from 30 degrees to the cross-section, that is up to 60 to the long axis (the same, femoral
  shaft of the dog, 32-A2, read): no word.
"""

import numpy as np
import pytest
from builders import case_of
from specimens import tube

from trajplan.checks import LIMIT_NOTES, Limits, Verdict, transverse
from trajplan.geometry import fan
from trajplan.planner import plan_case

LIMITS = Limits()
#: Least obliquity at which an axis may be planned that does not run along the shaft.
LEAST = LIMITS.along_angle - min(LIMITS.max_tilt, LIMITS.slip_angle)


def test_straight_across_fails_and_says_what_presses_it():
    found = transverse(5.0, LIMITS)
    assert (found.rule, found.subject, found.verdict) == ("transverse", "plan", Verdict.FAIL)
    assert (found.measured, found.limit, found.unit) == (5.0, 30.0, "degrees")
    assert "transverse, 5 degrees to the cross-section" in found.why
    assert "a lag screw cannot press it" in found.why
    assert "axial compression by a plate" in found.why


@pytest.mark.parametrize(
    ("angle", "verdict"),
    [
        (0.0, Verdict.FAIL),
        (LEAST - 0.01, Verdict.FAIL),
        (LEAST, Verdict.CAUTION),
        (29.99, Verdict.CAUTION),
        (30.0, None),
        (90.0, None),
        (np.nan, None),  # no shaft
    ],
)
def test_at_the_limits(angle, verdict):
    found = transverse(angle, LIMITS)
    assert (found.verdict if found else None) == verdict


def test_a_caution_names_the_decision():
    assert "Decide on it, with or without these screws" in transverse(20.0, LIMITS).why


def test_what_may_be_no_shaft_is_but_noted():
    found = transverse(5.0, LIMITS, sure=False)
    assert found.verdict is Verdict.NOTE
    assert "if this is a shaft" in found.why


@pytest.mark.parametrize("angle", [0.0, 5.0, LEAST - 0.5, LEAST + 0.5, 20.0])
def test_the_reason_holds_for_every_axis(angle):
    """Of all axes within the planned tilt of the normal, by a dense fan, none or some cross."""
    normal = np.array([[np.sin(np.radians(angle)), 0.0, np.cos(np.radians(angle))]])
    axes = fan(normal, LIMITS.max_tilt, 20_000).reshape(-1, 3)
    to_shaft = np.degrees(np.arccos(np.clip(np.abs(axes[:, 2]), 0.0, 1.0)))
    crosses = (to_shaft >= LIMITS.along_angle).any()
    assert crosses == (transverse(angle, LIMITS).verdict is not Verdict.FAIL)


def test_limits_are_settings():
    assert transverse(35.0, Limits(transverse=40.0)).verdict is Verdict.CAUTION
    assert "transverse" in LIMIT_NOTES


def across(**tables):
    case = case_of(fracture={"plane": {"point": [0, 0, 50], "normal": [0, 0.05, 1]}}, **tables)
    return plan_case(case, bone=tube(sides=32))


def named(plan):
    return {finding.rule: finding for finding in plan.findings}


def test_the_plan_of_a_transverse_shaft_says_so_in_one_finding():
    plan = across()
    found = named(plan)
    assert plan.verdict is Verdict.FAIL
    assert found["transverse"].verdict is Verdict.FAIL
    assert "axial compression by a plate" in found["transverse"].why
    assert found["count"].why == (
        "0 of 2 screws could be placed: the fracture is transverse, and no lag screw presses it."
    )


def test_a_bone_end_broken_across_is_a_lag_screws():
    assert "transverse" not in named(across(bone={"place": "end"}))


def test_a_position_screw_presses_nothing_anyway():
    assert "transverse" not in named(across(screws={"technique": "position"}))
