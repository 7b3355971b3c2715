"""Axes that somebody else drew: every row answered, in order."""

import numpy as np
import pytest
from builders import case_of
from specimens import tube

from trajplan.checks import Verdict
from trajplan.errors import AxesFileError
from trajplan.files import AxesTable
from trajplan.planner import check_axes, plan_record

MESH = tube(sides=32)


def table(start, end, kinds=None, techniques=None):
    n = len(start)
    return AxesTable(
        ids=tuple(f"A{i}" for i in range(n)),
        kinds=tuple(kinds or ["HA4.5"] * n),
        techniques=tuple(techniques or ["lag"] * n),
        start=np.asarray(start, dtype=float).reshape(-1, 3),
        end=np.asarray(end, dtype=float).reshape(-1, 3),
        rows=tuple(range(2, n + 2)),
    )


def checked(*args, **kwargs):
    return check_axes(case_of(), table(*args, **kwargs), bone=MESH)


def said(plan, rule):
    rows = plan.assessment.findings
    return [next((f.verdict.word for f in row if f.rule == rule), None) for row in rows]


def test_every_row_in_order_a_miss_among_them():
    plan = checked(
        [[-40, 0, 50], [-40, 90, 50], [40, 0, 50]], [[40, 0, 50], [40, 90, 50], [0, 0, 50]]
    )
    assert plan.assessment.ids == ("A0", "A1", "A2")
    assert said(plan, "meets_bone") == [None, "fail", None]
    assert said(plan, "tilt") == ["fail", None, "fail"]  # 30 degrees off the normal
    record = plan_record(plan)
    assert [screw.entry is None for screw in record.screws] == [False, True, False]
    assert record.screws[1].intervals == ()
    assert record.screws[0].score is None or np.isnan(record.screws[0].score)


def test_techniques_and_kinds_of_the_rows_count():
    start, end = [[-40, 0, 27]] * 3, [[40, 0, 73]] * 3
    plan = checked(start, end, ["HA4.5", "HB6.5", "HA4.5"], ["lag", "lag", "position"])
    assert said(plan, "closes_gap") == [None, None, "note"]
    screws = plan.assessment.screws
    assert screws.technique.tolist() == [0, 1, 2]
    assert screws.bicortical.tolist() == [True, False, True]
    record = plan_record(plan)
    assert [s.technique for s in record.screws] == ["lag", "lag", "position"]
    assert record.screws[0].gliding_hole is not None
    assert record.screws[2].gliding_hole is None


def test_screws_that_meet_are_found():
    plan = checked([[-40, 0, 27], [0, -40, 50]], [[40, 0, 73], [0, 40, 50]])
    (gap,) = [f for f in plan.findings if f.rule == "screw_gap"]
    assert (gap.subject, gap.verdict) == ("A0 + A1", Verdict.FAIL)


def test_a_long_list_is_judged_one_by_one_and_says_so():
    n = 21
    start = np.column_stack([np.full(n, -40.0), np.linspace(-5, 5, n), np.full(n, 27.0)])
    end = start + np.array([80.0, 0, 46])
    plan = checked(start, end)
    (gap,) = [f for f in plan.findings if f.rule == "screw_gap"]
    assert (gap.subject, gap.verdict) == ("plan", Verdict.UNKNOWN)
    assert len(plan.assessment.findings) == n
    few = checked(start[:20], end[:20])
    assert sum(f.rule == "screw_gap" for f in few.findings) == 190


def test_an_unknown_screw_names_its_row():
    with pytest.raises(AxesFileError, match=r"row 3.*HA9\.9"):
        checked([[-40, 0, 50]] * 2, [[40, 0, 50]] * 2, ["HA4.5", "HA9.9"])


def test_one_axis_that_crosses_nothing_holds_no_rotation():
    plan = checked([[-40, 0, 27], [-40, 0, 95]], [[40, 0, 73], [40, 0, 95]])
    assert said(plan, "crosses_fracture") == ["pass", "fail"]
    (rotation,) = [f for f in plan.findings if f.rule == "holds_rotation"]
    assert rotation.verdict is Verdict.CAUTION


def test_what_adds_screws_up_says_which_of_them_fail():
    """Two stand along the fracture's normal; a third lies aslant and runs into one of them."""
    square, aslant = [0.866, 0, 0.5], [1.0, 0, 0]
    middle = np.array([[0, 0, 34], [0, 0, 66], [0, 0, 50]], dtype=float)
    way = 40.0 * np.array([square, square, aslant])
    plan = checked(middle - way, middle + way)
    assert said(plan, "tilt") == ["pass", "pass", "fail"]
    found = {finding.rule: finding for finding in plan.assessment.together}
    rotation = found["holds_rotation"]
    assert rotation.verdict is Verdict.CAUTION
    assert rotation.why.endswith("This counts A1, A2, which fail rules.")
    assert "This counts" in found["slip"].why
    assert "This counts" not in found["one_approach"].why
    assert "This counts" not in found["screws_alone"].why
    fine = checked((middle - way)[:2], (middle + way)[:2])
    assert all("This counts" not in finding.why for finding in fine.assessment.together)


def test_screws_that_fail_only_as_a_pair_are_no_pass_either():
    """Both along the normal, 5 mm apart: their heads, 8 mm wide, meet."""
    square = 40.0 * np.array([0.866, 0, 0.5])
    middle = np.array([[0, 0, 50], [0, 5, 50]], dtype=float)
    plan = checked(middle - square, middle + square)
    assert all(f.verdict is not Verdict.FAIL for row in plan.assessment.findings for f in row)
    found = {finding.rule: finding for finding in plan.assessment.together}
    assert found["screw_gap"].verdict is Verdict.FAIL
    for rule in ("holds_rotation", "contact_share"):
        assert found[rule].verdict is Verdict.CAUTION
        assert found[rule].why.endswith("This counts A0, A1, which fail rules.")
