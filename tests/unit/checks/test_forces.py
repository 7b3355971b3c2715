"""Rules on forces."""

import math

import numpy as np
import pytest

from trajplan.checks import Limits, Verdict, contact_share, head_pressure, holding, opening, slip
from trajplan.mechanics import Range

HIT = np.array([True])


@pytest.mark.parametrize(
    ("low", "estimate", "verdict"),
    [
        (200.0, 900.0, Verdict.PASS),
        (199.0, 900.0, Verdict.CAUTION),
        (100.0, 200.0, Verdict.CAUTION),
        (100.0, 199.0, Verdict.FAIL),
        (np.nan, np.nan, Verdict.UNKNOWN),
    ],
)
def test_holding_fails_by_the_estimate_and_cautions_by_the_low_end(low, estimate, verdict):
    """A fifth of the 1000 N that the screw is tightened to."""
    found = (np.array([low]), np.array([estimate]), np.array([1000.0]))
    ruling = holding(*found, HIT, Limits())
    assert ruling.verdict[0] == verdict
    assert holding(*found, ~HIT, Limits()).findings(["screw 1"]) == []
    why = ruling.findings(["screw 1"])[0].why
    assert ("Decide" in why) == (verdict == Verdict.CAUTION)
    assert ("strips before it presses" in why) == (verdict == Verdict.FAIL)


def test_holding_wanted_scales_with_the_screw():
    """What is plenty for a 1.5 mm screw is too little for one of 4.5 mm."""
    hold, aimed = np.array([200.0, 200.0]), np.array([206.0, 1441.0])
    ruling = holding(hold, hold, aimed, np.array([True, True]), Limits())
    assert list(ruling.verdict) == [Verdict.PASS, Verdict.FAIL]


def use_of(*bounds):
    return Range(*(np.array([bound]) for bound in bounds))


@pytest.mark.parametrize(
    ("use", "verdict"),
    [
        ((0.2, 0.5, 0.9), Verdict.PASS),
        ((0.2, 0.5, 1.1), Verdict.CAUTION),
        ((0.5, 1.1, 2.0), Verdict.FAIL),
        ((np.nan, np.nan, np.nan), Verdict.UNKNOWN),
        ((0.2, np.nan, 8.0), Verdict.UNKNOWN),  # nobody knows the wall
        ((0.1, np.nan, 0.9), Verdict.PASS),  # soft bone would do
        ((1.2, np.nan, 30.0), Verdict.FAIL),  # cortex would not
    ],
)
def test_head_pressure_fails_by_the_estimate_and_cautions_by_the_high_end(use, verdict):
    for washered in (HIT, ~HIT):
        ruling = head_pressure(use_of(*use), HIT, washered, HIT, ~HIT)
        assert ruling.verdict[0] == verdict
        assert head_pressure(use_of(*use), ~HIT, washered, HIT, ~HIT).findings(["screw 1"]) == []


@pytest.mark.parametrize(
    ("washered", "stocked", "countersunk", "said", "not_said"),
    [
        (False, True, False, "Use a washer", "wider"),
        (True, True, False, "Take a wider washer", "Use a washer"),
        (False, False, False, "has no washer for it: take a screw with a wider head", "Use"),
        (False, True, True, "No washer goes on a countersunk head", "Use a washer"),
    ],
)
@pytest.mark.parametrize("use", [0.7, 1.3])
def test_advice_against_sinking_can_be_followed(
    use, washered, stocked, countersunk, said, not_said
):
    flags = (np.array([flag]) for flag in (washered, stocked, countersunk))
    (finding,) = head_pressure(use_of(0.3, use, 1.9), HIT, *flags).findings(["screw 1"])
    assert said in finding.why
    assert not_said not in finding.why
    assert f"{use:.1f} times the bone's strength" in finding.why
    assert finding.measured == use
    assert ("expected to sink in" in finding.why) == (use > 1.0)


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
