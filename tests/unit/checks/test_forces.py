"""Rules on forces."""

import math

import numpy as np
import pytest

from trajplan.checks import Limits, Verdict, contact_share, head_pressure, holding, opening, slip

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
    for washered in (HIT, ~HIT):
        ruling = head_pressure(np.array([use]), np.array([high]), HIT, washered, HIT)
        assert ruling.verdict[0] == verdict


@pytest.mark.parametrize(
    ("use", "washered", "stocked", "said", "not_said"),
    [
        (1.3, False, True, "a washer is due", "wider"),
        (1.3, True, True, "Take a wider one", "due"),
        (1.3, False, False, "has no washer for it. Take a wider head", "due"),
        (0.7, False, True, "use a washer", "due"),
        (0.7, True, True, "take a wider one", "due"),
        (0.7, False, False, "has no washer for it. Tighten with care", "use a washer"),
    ],
)
def test_a_washer_is_named_where_the_head_sinks_in(use, washered, stocked, said, not_said):
    ruling = head_pressure(
        np.array([use]), np.array([1.9]), HIT, np.array([washered]), np.array([stocked])
    )
    (finding,) = ruling.findings(["S1"])
    assert said in finding.why
    assert not_said not in finding.why
    assert f"{use:.1f} times the bone's strength" in finding.why


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


def test_bends_that_stop_the_fragments_are_a_caution_and_named():
    held = slip(math.inf, math.inf, where=" at Z1, Z2", bends=True)
    assert held.verdict is Verdict.CAUTION
    assert "bends" in held.why
    assert "at Z1, Z2" in held.why
    assert slip(0.5, 0.9, bends=True).verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (1.0, 1.0, Verdict.PASS),
        (math.inf, math.inf, Verdict.PASS),
        (0.99, 1.5, Verdict.CAUTION),
        (0.0, 0.99, Verdict.FAIL),
        (0.0, 0.0, Verdict.FAIL),  # slides before any load
        (0.0, 1.2, Verdict.CAUTION),
        (math.nan, math.nan, Verdict.UNKNOWN),
    ],
)
def test_opening_load(low, high, verdict):
    least = math.inf if low >= 1.0 else 0.09
    finding = opening(low, high, least=least, where=" between A and B", why="the bone has no shaft")
    assert finding.verdict is verdict
    assert ("A and B" in finding.why) == (verdict in (Verdict.CAUTION, Verdict.FAIL))
    assert ("no shaft" in finding.why) == (verdict is Verdict.UNKNOWN)
    grave = verdict in (Verdict.CAUTION, Verdict.FAIL)
    assert ("0.09 times at the least preload" in finding.why) == grave


@pytest.mark.parametrize(
    ("least", "verdict", "said"),
    [
        (1.0, Verdict.PASS, "4.0 times the load of the case at the estimated preload, 1.0 times"),
        (0.99, Verdict.CAUTION, "but only up to 0.99 times at the least"),
    ],
)
def test_opening_load_at_the_least_preload(least, verdict, said):
    finding = opening(4.0, 6.0, least=least)
    assert finding.verdict is verdict
    assert said in finding.why
    assert opening(0.5, 0.9, least=0.05).verdict is Verdict.FAIL


def test_the_surface_that_is_pressed_least_is_named():
    found = contact_share(0.8, 3.0, Limits(), solved=True, where=" between A and B", least=0.31)
    assert "least of all between A and B, 31 %" in found.why
    parted = contact_share(
        math.nan, 3.0, Limits(), solved=False, apart=True, where=" between A and B"
    )
    assert parted.verdict is Verdict.FAIL
    assert "between A and B" in parted.why


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
