"""Whether a reduction may be trusted: rules at their limits, past them, and where none can tell."""

from dataclasses import replace

import numpy as np
import pytest

from tests.reduced_cases import GOOD, reduction
from trajplan.checks import Limits, Verdict, reduction_findings, trusted
from trajplan.reduction import LIMITS, Displacement, Slides


def lying(shift=8.0, rotation=15.0):
    nan = np.nan
    return [Displacement(1, shift, rotation, 1.0, 2.0, 3.0, nan, nan, "", "", 4.0, np.full(3, nan))]


def judge(told, where=None, around=()):
    findings = reduction_findings(told, where or lying(), Limits(), around)
    return {finding.rule: finding for finding in findings}


def test_a_good_fit_passes_and_is_trusted():
    findings = judge(reduction())
    assert {finding.verdict for finding in findings.values()} == {Verdict.PASS}
    assert trusted(findings.values())


@pytest.mark.parametrize(
    ("rule", "field", "at", "past", "verdict"),
    [
        ("reduce_gap", "gap_90", 1.0, 1.1, Verdict.CAUTION),
        ("reduce_gap", "gap_90", 1.0, 2.1, Verdict.FAIL),
        ("reduce_step", "step_largest", 1.0, 1.1, Verdict.CAUTION),
        ("reduce_step", "step_mean", 2.0, 2.1, Verdict.FAIL),
        ("reduce_overlap", "overlap", LIMITS["overlap"], 61.0, Verdict.CAUTION),
    ],
)
def test_at_a_limit_and_past_it(rule, field, at, past, verdict):
    assert judge(reduction(replace(GOOD, **{field: at})))[rule].verdict is Verdict.PASS
    found = judge(reduction(replace(GOOD, **{field: past})))
    assert found[rule].verdict is verdict
    assert trusted(found.values()) == (verdict is Verdict.CAUTION)


@pytest.mark.parametrize(
    ("rival", "words"),
    [(0.0, "No other placement of lower.stl and upper.stl fits."), (0.3, "30 %")],
)
def test_another_placement_that_is_none_has_no_share(rival, words):
    assert words in judge(reduction(replace(GOOD, rival=rival)))["reduce_rival"].why


@pytest.mark.parametrize(("inside", "inner"), [((0.6, 0.1), "lower"), ((0.1, 0.6), "upper")])
def test_a_piece_inside_another_fails_by_name(inside, inner):
    outer = {"lower": "upper", "upper": "lower"}[inner]
    found = judge(reduction(replace(GOOD, inside=inside, overlap=900.0)))["reduce_overlap"]
    assert found.verdict is Verdict.FAIL
    assert found.why.startswith(f"{inner}.stl lies inside the bone of {outer}.stl (overlap 900 mm")
    assert found.measured == 900.0
    edges = judge(reduction(replace(GOOD, inside=(0.5, 0.5))))["reduce_overlap"]
    assert edges.verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("rule", "field", "sign"),
    [
        ("reduce_contact", "contact", -1.0),
        ("reduce_rival", "rival", 1.0),
        ("reduce_steady", "steady_shift", 1.0),
        ("reduce_steady", "steady_turn", 1.0),
        ("reduce_agree", "agree_shift", 1.0),
        ("reduce_agree", "agree_turn", 1.0),
    ],
)
def test_past_what_is_certain_it_cannot_be_told(rule, field, sign):
    at = LIMITS[field]
    assert judge(reduction(replace(GOOD, **{field: at})))[rule].verdict is Verdict.PASS
    found = judge(reduction(replace(GOOD, **{field: at + 0.05 * sign})))
    assert found[rule].verdict is Verdict.UNKNOWN
    assert not trusted(found.values())


@pytest.mark.parametrize(
    ("rule", "field"),
    [
        ("reduce_contact", "contact"),
        ("reduce_gap", "gap_90"),
        ("reduce_step", "step_largest"),
        ("reduce_overlap", "overlap"),
        ("reduce_rival", "rival"),
        ("reduce_steady", "steady_turn"),
        ("reduce_agree", "agree_shift"),
    ],
)
def test_what_was_not_measured_is_unknown(rule, field):
    found = judge(reduction(replace(GOOD, **{field: np.nan})))
    assert found[rule].verdict is Verdict.UNKNOWN
    assert not trusted(found.values())


def test_the_number_measured_is_the_one_that_the_sentence_states():
    for field, value, rule, said in (
        ("gap_90", 1.4, "reduce_gap", "1.4 mm"),
        ("step_mean", 3.2, "reduce_step", "3.2 mm"),
        ("overlap", 80.0, "reduce_overlap", "80 mm³"),
    ):
        finding = judge(reduction(replace(GOOD, **{field: value})))[rule]
        assert finding.measured == value
        assert said in finding.why


def test_length_is_unknown_without_a_template_and_costs_no_trust():
    found = judge(reduction(replace(GOOD, length_known=False)))
    assert found["reduce_length"].verdict is Verdict.UNKNOWN
    assert trusted(found.values())


def test_a_template_that_does_not_fit_is_not_asked_for_again():
    pair = replace(GOOD, length_known=False)
    finding = judge(reduction(pair, template_misfit=8.0))["reduce_length"]
    assert finding.verdict is Verdict.UNKNOWN
    assert "the template does not settle it" in finding.why
    assert "name a template" not in finding.why


def test_a_turn_that_is_open_asks_for_a_template_and_is_not_trusted():
    pair = replace(GOOD, turn_known=False, slides=Slides(turn=14.0))
    found = judge(reduction(pair))
    assert found["reduce_turn"].verdict is Verdict.UNKNOWN
    assert found["reduce_turn"].measured == 14.0
    assert "template" in found["reduce_turn"].why
    assert not trusted(found.values())


def test_farther_than_ever_tried_needs_a_decision():
    assert judge(reduction(), lying(shift=45.0))["reduce_prior"].verdict is Verdict.PASS
    assert judge(reduction(), lying(shift=46.0))["reduce_prior"].verdict is Verdict.CAUTION
    found = judge(reduction(), lying(rotation=60.0))["reduce_prior"]
    assert (found.verdict, found.measured, found.unit) == (Verdict.CAUTION, 60.0, "degrees")


def test_a_fragment_that_meets_no_other_fails():
    found = judge(reduction(pairs=()))
    assert found["reduce_contact"].verdict is Verdict.FAIL
    assert "lower.stl, upper.stl" in found["reduce_contact"].why


def test_by_hand_it_is_a_person_who_decides():
    """What only a search can measure is not asked of a placement by hand."""
    nan = dict.fromkeys(("rival", "steady_shift", "steady_turn", "agree_shift"), np.nan)
    pair = replace(GOOD, turn_known=False, **nan)
    found = judge(reduction(pair, origins=("found", "hand"), sure=False))
    assert found["reduce_hand"].verdict is Verdict.CAUTION
    assert not {"reduce_rival", "reduce_steady", "reduce_agree", "reduce_turn"} & set(found)
    assert trusted(found.values())


def test_a_hand_cannot_make_pieces_fit():
    found = judge(reduction(replace(GOOD, gap_90=5.0), origins=("found", "hand")))
    assert found["reduce_gap"].verdict is Verdict.FAIL
    assert not trusted(found.values())


def test_doubts_of_the_program_are_never_silent():
    found = judge(reduction(sure=False, doubts=("Two pieces are alike.",)))
    assert found["reduce_sure"].verdict is Verdict.UNKNOWN
    assert found["reduce_sure"].why == "Two pieces are alike."
    assert not trusted(found.values())


def test_structures_stay_where_they_lie_and_somebody_must_decide():
    found = judge(reduction(), around=["nerve"])
    assert found["reduce_around"].verdict is Verdict.CAUTION
    assert found["reduce_around"].why.startswith("nerve stays where it lies")


@pytest.mark.parametrize(
    ("short", "verdict", "said"),
    [(7.9, "pass", "7.9 mm shorter"), (-8.0, "caution", "8.0 mm longer"), (9.0, "caution", "9.0")],
)
def test_length_against_a_template(short, verdict, said):
    finding = judge(reduction(template_short=short))["reduce_length"]
    assert finding.verdict.word == verdict
    assert said in finding.why
    assert finding.measured == abs(short)
