"""Verdicts: their order, limits that are just met, and what cannot be told."""

import numpy as np
import pytest

from trajplan.checks import DOES_NOT_APPLY, Finding, Limits, Ruling, Verdict, grade, worst

PASS, NOTE, UNKNOWN, CAUTION, FAIL = (int(v) for v in Verdict)


def test_verdicts_weigh_in_order():
    assert [v.word for v in sorted(Verdict)] == ["pass", "note", "unknown", "caution", "fail"]
    assert worst([Verdict.PASS, Verdict.CAUTION, Verdict.UNKNOWN]) is Verdict.CAUTION
    assert worst([Verdict.PASS, Verdict.UNKNOWN]) is Verdict.UNKNOWN


def test_no_verdict_at_all_is_unknown():
    assert worst([]) is Verdict.UNKNOWN


def test_notes_make_nothing_worse_than_a_pass():
    assert worst([Verdict.PASS, Verdict.NOTE]) is Verdict.PASS
    assert worst([Verdict.NOTE]) is Verdict.PASS
    assert worst([Verdict.NOTE, Verdict.UNKNOWN]) is Verdict.UNKNOWN


def test_a_note_gives_way_to_a_graver_limit():
    measured = np.array([0.5, 1.5, 2.5, 3.5])
    verdict, limit = grade(measured, note_above=1.0, caution_above=2.0, fail_above=3.0)
    assert verdict.tolist() == [PASS, NOTE, CAUTION, FAIL]
    assert limit.tolist() == [1.0, 1.0, 2.0, 3.0]
    assert grade(measured, note_below=1.0)[0].tolist() == [NOTE, PASS, PASS, PASS]


def test_a_limit_that_is_just_met_passes():
    measured = np.array([0.9, 1.0 - 1e-5, 1.0 - 1e-9, 1.0, 1.1])
    verdict, limit = grade(measured, fail_below=1.0)
    assert verdict.tolist() == [FAIL, FAIL, PASS, PASS, PASS]
    assert limit.tolist() == [1.0] * 5
    verdict, _ = grade(measured, fail_above=1.0)
    assert verdict.tolist() == [PASS, PASS, PASS, PASS, FAIL]


def test_the_graver_limit_decides():
    measured = np.array([-1.0, 0.5, 2.0, 5.0, 9.0])
    verdict, limit = grade(
        measured, fail_below=0.0, caution_below=1.0, caution_above=4.0, fail_above=8.0
    )
    assert verdict.tolist() == [FAIL, CAUTION, PASS, CAUTION, FAIL]
    assert limit.tolist() == [0.0, 1.0, 1.0, 4.0, 8.0]


def test_a_limit_for_each_row():
    verdict, limit = grade(np.array([1.0, 1.0]), fail_below=np.array([0.5, 1.5]))
    assert verdict.tolist() == [PASS, FAIL]
    assert limit.tolist() == [0.5, 1.5]


def test_nan_is_unknown_and_never_a_pass():
    verdict, _ = grade(np.array([np.nan]), fail_below=1.0, caution_above=2.0)
    assert verdict.tolist() == [UNKNOWN]


def test_doubt_takes_pass_and_caution_but_leaves_a_fail():
    measured, doubt = np.array([3.0, 1.5, 0.0]), np.ones(3, dtype=bool)
    verdict, _ = grade(measured, fail_below=1.0, caution_below=2.0, doubt=doubt)
    assert verdict.tolist() == [UNKNOWN, UNKNOWN, FAIL]


def test_what_a_rule_does_not_apply_to_makes_no_finding():
    verdict, limit = grade(np.array([0.0, 2.0]), fail_below=1.0, applies=np.array([False, True]))
    assert verdict.tolist() == [DOES_NOT_APPLY, PASS]
    ruling = Ruling("r", verdict, np.array([0.0, 2.0]), limit, "mm", "geometry", {Verdict.PASS: ""})
    assert [finding.subject for finding in ruling.findings(["screw 1", "screw 2"])] == ["screw 2"]


@pytest.mark.parametrize("n", [0, 1, 5])
def test_as_many_answers_as_questions(n):
    verdict, limit = grade(np.ones(n), fail_below=0.0)
    assert verdict.shape == limit.shape == (n,)


def test_a_finding_writes_its_numbers_into_the_sentence():
    ruling = Ruling(
        rule="gap",
        verdict=np.array([FAIL, UNKNOWN], dtype=np.int8),
        measured=np.array([0.46, np.nan]),
        limit=np.array([1.0, np.nan]),
        unit="mm",
        source="geometry",
        sentences={Verdict.FAIL: "{measured} of {limit}{remark}.", Verdict.UNKNOWN: "Not known."},
        remark=lambda i: [" here", ""][i],
    )
    first, second = ruling.findings(["screw 1", "screw 2"])
    assert first == Finding(
        "gap", "screw 1", Verdict.FAIL, 0.46, 1.0, "mm", "0.5 mm of 1.0 mm here.", "geometry"
    )
    assert (second.measured, second.limit, second.why) == (None, None, "Not known.")


def test_the_slip_angle_is_the_arctangent_of_friction():
    """Coulomb: a body on a slope slides where tan(slope) exceeds friction (common practice)."""
    assert Limits().slip_angle == pytest.approx(20.0, abs=0.01)  # the taught limit of tilt
    assert Limits().slide_angle == pytest.approx(24.7, abs=0.05)
    assert Limits(friction=1.0).slip_angle == pytest.approx(45.0)
    assert Limits(friction=1.0).changed() == {"friction": 1.0}
