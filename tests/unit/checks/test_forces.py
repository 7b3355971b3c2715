"""Rules on forces."""

import math

import numpy as np
import pytest

from trajplan.checks import Limits, Verdict, contact_share, head_pressure, holding, slip

HIT = np.array([True])


@pytest.mark.parametrize(
    ("low", "estimate", "verdict"),
    [
        (500.0, 900.0, Verdict.PASS),
        (499.0, 900.0, Verdict.CAUTION),
        (100.0, 400.0, Verdict.CAUTION),
        (np.nan, np.nan, Verdict.UNKNOWN),
    ],
)
def test_holding_is_judged_by_the_low_end(low, estimate, verdict):
    ruling = holding(np.array([low]), np.array([estimate]), HIT, Limits())
    assert ruling.verdict[0] == verdict
    assert holding(np.array([low]), np.array([estimate]), ~HIT, Limits()).findings(["S1"]) == []


@pytest.mark.parametrize(
    ("use", "high", "verdict"),
    [
        (0.5, 0.9, Verdict.PASS),
        (0.5, 1.1, Verdict.CAUTION),
        (1.1, 2.0, Verdict.CAUTION),
        (np.nan, np.nan, Verdict.UNKNOWN),
    ],
)
def test_head_pressure_is_judged_by_the_high_end(use, high, verdict):
    assert head_pressure(np.array([use]), np.array([high]), HIT).verdict[0] == verdict


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (1.0, 1.5, Verdict.PASS),
        (math.inf, math.inf, Verdict.PASS),
        (0.99, 1.5, Verdict.CAUTION),
        (0.5, 0.99, Verdict.FAIL),
        (math.nan, math.nan, Verdict.UNKNOWN),
    ],
)
def test_slip(low, high, verdict):
    finding = slip(low, high)
    assert finding.verdict is verdict
    assert finding.subject == "plan"
    assert (finding.measured is None) == (not math.isfinite(low))


@pytest.mark.parametrize(
    ("share", "solved", "verdict"),
    [
        (0.5, True, Verdict.PASS),
        (0.49, True, Verdict.CAUTION),
        (0.9, False, Verdict.UNKNOWN),
        (math.nan, True, Verdict.UNKNOWN),
    ],
)
def test_contact_share(share, solved, verdict):
    finding = contact_share(share, 3.0, Limits(), solved=solved)
    assert finding.verdict is verdict
    if verdict is Verdict.CAUTION:
        assert "plate" in finding.why
    if verdict is Verdict.UNKNOWN:
        assert finding.measured is None
