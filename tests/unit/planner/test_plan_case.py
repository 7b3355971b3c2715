"""The pipeline from case to plan."""

from datetime import UTC, datetime

import numpy as np
import pytest
from builders import case_of
from mesh_files import stl_bytes, write
from specimens import box, tube

from trajplan.checks import Verdict
from trajplan.files import AxesTable
from trajplan.planner import check_axes, plan_case, plan_record, set_up
from trajplan.planner._advice import kinds_beaten, kinds_left_out, kinds_that_fit
from trajplan.planner._screen import screen

MESH = tube(sides=32)
THEN = datetime(2026, 1, 2, tzinfo=UTC)


@pytest.fixture(scope="module")
def plan():
    return plan_case(case_of(), bone=MESH)


@pytest.fixture(autouse=True)
def _few_trials(monkeypatch):
    """Try other screws of the catalogue on fewer candidates: quicker, and still a fit or none."""
    monkeypatch.setattr("trajplan.planner._advice.TRIAL", 100)


def rules(plan):
    return {finding.rule: finding for finding in plan.findings}


def test_two_screws_that_fail_nothing(plan):
    assert plan.assessment.ids == ("screw 1", "screw 2")
    assert plan.verdict in (Verdict.CAUTION, Verdict.UNKNOWN)
    found = [f for findings in plan.assessment.findings for f in findings]
    assert all(f.verdict is not Verdict.FAIL for f in (*found, *plan.findings))
    assert rules(plan)["holds_rotation"].verdict is Verdict.PASS
    assert rules(plan)["screw_gap"].verdict is Verdict.PASS
    assert "count" not in rules(plan)


def test_no_joint_named_is_told(plan):
    assert rules(plan)["joint_clearance"].verdict is Verdict.UNKNOWN


def test_the_same_case_gives_the_same_record():
    first, second = (plan_record(plan_case(case_of(), bone=MESH), created=THEN) for _ in range(2))
    assert first.model_dump_json() == second.model_dump_json()


def test_alternatives_are_named_in_order_and_stand_beside_the_others(plan):
    names = [alternative.assessment.ids[0] for alternative in plan.alternatives]
    assert names == ["screw 1b", "screw 1c", "screw 2b", "screw 2c"]
    assert [alternative.replaces for alternative in plan.alternatives] == ["screw 1"] * 2 + [
        "screw 2"
    ] * 2
    for alternative in plan.alternatives:
        (findings,) = alternative.assessment.findings
        assert all(f.verdict is not Verdict.FAIL for f in findings)


def test_an_alternative_fails_with_no_other_screw(plan):
    for alternative in plan.alternatives:
        kept = [i for i, name in enumerate(plan.assessment.ids) if name != alternative.replaces]
        screws = [(plan.assessment.screws, i) for i in kept] + [(alternative.assessment.screws, 0)]
        together = check_axes(case_of(), table_of(screws), bone=MESH)
        (gap,) = [f for f in together.findings if f.rule == "screw_gap"]
        assert gap.verdict is Verdict.PASS


def table_of(screws):
    start = np.array([s.corridors.axes.origin[i] for s, i in screws])
    way = np.array([s.corridors.exit[i] * s.corridors.axes.direction[i] for s, i in screws])
    return AxesTable(
        ids=tuple(str(n) for n in range(len(screws))),
        kinds=tuple(s.dims.kinds[s.dims.kind[i]].kind for s, i in screws),
        techniques=("lag",) * len(screws),
        start=start,
        end=start + way,
        rows=tuple(range(2, len(screws) + 2)),
    )


def test_a_screw_checked_as_somebody_elses_axis_has_the_same_depths(plan):
    mine = plan.assessment.screws
    theirs = check_axes(case_of(), table_of([(mine, 0), (mine, 1)]), bone=MESH).assessment.screws
    assert theirs.corridors.exit == pytest.approx(mine.corridors.exit, abs=1e-9)
    assert theirs.crossing.axis == pytest.approx(mine.crossing.axis, abs=1e-6)
    assert theirs.gauge == pytest.approx(mine.gauge, abs=1e-6)
    assert theirs.length.tolist() == mine.length.tolist()


def test_fewer_than_asked_for_fails_and_says_why():
    plan = plan_case(case_of(screws={"count": 4}, limits={"screw_gap": 20.0}), bone=MESH)
    count = rules(plan)["count"]
    placed = len(plan.assessment.ids)
    assert 0 < placed < 4
    assert (count.verdict, count.measured, count.limit) == (Verdict.FAIL, placed, 4.0)
    assert f"{placed} of 4 screws" in count.why
    assert plan.verdict is Verdict.FAIL


def test_nothing_fits():
    """A cone of half a degree, square to the fracture normal: no candidate lies in it."""
    side = {"direction": [0, 1, 0], "cone": 0.5}
    plan = plan_case(case_of(screws={"approach": side}), bone=MESH)
    assert plan.assessment.ids == ()
    assert plan.alternatives == ()
    count = rules(plan)["count"]
    assert count.verdict is Verdict.FAIL
    assert "approach turned most away" in count.why
    tally = {t.rule: t for t in plan.tally}
    assert f"among {tally['approach'].turned_away} candidates" in count.why
    assert tally["approach"].nearest_miss > 50
    assert "holds_rotation" not in rules(plan)  # the count has said it
    record = plan_record(plan, created=THEN)
    assert record.screws == ()
    assert record.verdict == "fail"


def test_advice_names_screws_that_would_fit():
    """HB6.5 comes in 30 mm at the least: its tip would go too deep in this shaft."""
    case = case_of(screws={"kinds": ["HB6.5"], "candidates": 300})
    plan = plan_case(case, bone=MESH)
    assert plan.assessment.ids == ()
    fitting = kinds_that_fit(plan.setup)
    assert "HA4.5" in fitting
    assert "HB6.5" not in fitting
    assert "HA4.5" in rules(plan)["count"].why


def test_a_joint_all_round_is_measured_to_its_nearest_miss(tmp_path):
    mesh = str(write(tmp_path / "joint.stl", stl_bytes(box((-30, -30, 10), (30, 30, 90)))))
    joint = [{"name": "joint", "mesh": mesh, "clearance": 25.0}]
    plan = plan_case(case_of(joint=joint), bone=MESH)
    (tally,) = [t for t in plan.tally if t.rule == "joint_clearance"]
    assert f"among {tally.turned_away} candidates" in rules(plan)["count"].why
    assert 25 < tally.nearest_miss < 60  # inside a closed surface the way out counts as well


def test_an_open_side_is_kept_to():
    side = {"direction": [-1, 0, 0], "cone": 60.0}
    plan = plan_case(case_of(screws={"approach": side}), bone=MESH)
    directions = plan.assessment.screws.corridors.axes.direction
    assert (directions[:, 0] > np.cos(np.radians(60))).all()
    assert (plan.assessment.screws.corridors.axes.origin[:, 0] < 0).all()


def test_one_screw_gets_a_caution():
    plan = plan_case(case_of(screws={"count": 1}), bone=MESH)
    assert plan.assessment.ids == ("screw 1",)
    assert rules(plan)["holds_rotation"].verdict is Verdict.CAUTION
    assert "screw_gap" not in rules(plan)


def test_two_kinds_are_weighed_against_each_other():
    plan = plan_case(case_of(screws={"kinds": ["HA3.5", "HA4.5"]}), bone=MESH)
    screws = plan.assessment.screws
    assert {screws.dims.kinds[k].kind for k in screws.dims.kind} <= {"HA3.5", "HA4.5"}
    assert len(plan.assessment.ids) == 2
    assert "kind_left_out" not in rules(plan)
    assert {option.kind for option in plan.options} == {"HA3.5", "HA4.5"}


def test_a_kind_of_which_none_fits_does_not_vanish():
    """HB6.5 is too long for this shaft, as above; HA4.5 fits."""
    plan = plan_case(case_of(screws={"kinds": ["HB6.5", "HA4.5"]}), bone=MESH)
    left = rules(plan)["kind_left_out"]
    assert left.verdict is Verdict.NOTE
    assert left.why.startswith("Of HB6.5 none of ")
    assert "the rule tip_short turns most away" in left.why
    assert {option.kind for option in plan.options} == {"HA4.5"}
    assert "kind_left_out" in {finding.rule for finding in plan_record(plan).findings}


def test_a_kind_that_others_beat_everywhere_does_not_vanish_either():
    """Six screws are chosen among 60 candidates, and so many of HA4.5 beat the best HB6.5."""
    screws = {"kinds": ["HA4.5", "HB6.5"], "count": 6, "candidates": 2000, "hold": "bicortical"}
    setup = set_up(case_of(screws=screws), bone=MESH)
    found = screen(setup)
    kept = int((found.candidates.kind[found.kept] == 1).sum())
    assert kept > 0
    (left,) = kinds_beaten(setup, found)
    assert left.verdict is Verdict.PASS
    assert left.why.startswith(f"Of HB6.5 {kept} candidates fail no rule, but enough")
    assert kinds_left_out(setup, found) == ()


def test_the_other_kinds_get_the_candidates_of_one_that_fits_nowhere():
    """A plan of two kinds of which one cannot be placed is the plan of the other alone."""
    both = plan_case(case_of(screws={"kinds": ["HB6.5", "HA4.5"]}), bone=MESH)
    alone = plan_case(case_of(screws={"kinds": ["HA4.5"]}), bone=MESH)
    ours, theirs = (plan_record(plan).screws for plan in (both, alone))
    assert [s.entry for s in ours] == [s.entry for s in theirs]
    assert [s.direction for s in ours] == [s.direction for s in theirs]


def test_the_row_of_the_plans_own_number_is_the_plan():
    plan = plan_case(case_of(), bone=MESH)
    (own,) = [option for option in plan.options if option.count == len(plan.assessment.ids)]
    assert own.squeeze == plan.outlook.forces.squeeze.estimate.sum()
    assert own.share == plan.outlook.pressing.share
    assert own.slip_low == plan.outlook.pressing.reserve_low
    assert own.holding == plan.outlook.forces.holding.low.min()


def test_a_kind_that_loses_in_every_column_is_not_chosen():
    """Geometry alone counts, and HA2.7 scores as well as HA4.5 on it; it holds far less."""
    only = {"geometry": 1.0, "contact": 0.0, "slip": 0.0, "holding": 0.0, "forgiving": 0.0}
    plan = plan_case(
        case_of(screws={"kinds": ["HA2.7", "HA4.5"], "count": 2}, weights=only), bone=MESH
    )
    chosen = {screw.kind for screw in plan_record(plan).screws}
    mine = [o for o in plan.options if o.count == 2 and {o.kind} == chosen]
    others = [o for o in plan.options if o.count == 2 and o.kind not in chosen]
    for own, other in ((own, other) for own in mine for other in others):
        better = (
            other.holding > 1.01 * own.holding,
            other.squeeze > 1.01 * own.squeeze,
            other.share > 1.01 * own.share,
            other.slip_low > 1.01 * own.slip_low,
        )
        assert not all(better)
