"""Provisional wires of a plan."""

import numpy as np
import pytest
from builders import case_of
from mesh_files import stl_bytes, write
from specimens import box, tube

from trajplan.checks import Verdict, wire_clear
from trajplan.errors import CaseError, CatalogueError
from trajplan.planner import plan_case, plan_record

MESH = tube(sides=32)


@pytest.fixture(scope="module")
def plan():
    return plan_case(case_of(wires={"count": 2, "kinds": ["W1.6", "W2.0"]}), bone=MESH)


def test_wires_stay_clear_of_every_screw_and_hold_both_fragments(plan):
    wires = plan.wires
    assert wires.ids == ("wire 1", "wire 2")
    ruling = wire_clear(wires.paths, plan.assessment.screws, plan.setup.limits)
    assert (ruling.verdict == Verdict.PASS).all()
    assert (wires.paths.near >= plan.setup.limits.wire_hold).all()
    assert (wires.paths.far >= plan.setup.limits.wire_hold).all()
    assert (wires.paths.crossing.tilt <= plan.setup.limits.wire_tilt + 1e-6).all()
    assert wires.notes == ()


def test_wires_are_in_the_record_with_their_findings(plan):
    record = plan_record(plan)
    for wire in record.wires:
        assert {f.rule for f in wire.findings} == {
            "wire_tilt", "wire_hold", "wire_clear", "drill_access",
        }  # fmt: skip
        assert all(f.subject == wire.id for f in wire.findings)
        depth = np.linalg.norm(np.subtract(wire.exit, wire.entry))
        assert wire.intervals[-1][1] == pytest.approx(depth, abs=1e-5)
        assert wire.diameter in (1.6, 2.0)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_wires_come_from_the_open_side(side):
    way = [side * 0.866, 0.0, side * 0.5]
    plan = plan_case(
        case_of(wires={"count": 2}, screws={"approach": {"direction": way, "cone": 60.0}}),
        bone=MESH,
    )
    assert len(plan.wires.ids) == 2
    assert (plan.wires.paths.corridors.axes.direction @ way < -0.5).all()
    for findings in plan.wires.findings:
        assert [f.verdict for f in findings if f.rule == "approach"] == [Verdict.PASS]


def test_the_way_of_the_drill_to_a_wire_is_clear_of_what_must_be_kept(tmp_path):
    """A strand 40 mm off the shaft, in the way of every drill from one side."""
    strand = write(tmp_path / "nerve.stl", stl_bytes(box((38, -40, 0), (42, 40, 100))))
    nerve = {"name": "nerve", "mesh": str(strand), "clearance": 2.0}
    plan = plan_case(case_of(wires={"count": 2}, avoid=[nerve]), bone=MESH)
    assert (plan.wires.paths.corridors.axes.direction[:, 0] > 0.0).all()
    for findings in (*plan.wires.findings, *plan.assessment.findings):
        assert [f.verdict for f in findings if f.rule == "guide_way"] == [Verdict.PASS]


def test_no_wires_where_none_are_asked_for():
    assert plan_case(case_of(), bone=MESH).wires is None


def test_too_few_places_are_said():
    crowded = plan_case(
        case_of(wires={"count": 6}, limits={"wire_hold": 11.9, "wire_tilt": 1.0}), bone=MESH
    )
    assert len(crowded.wires.ids) < 6
    assert [note.rule for note in crowded.wires.notes] == ["wire_count"]
    assert "wire_count" in [finding.rule for finding in crowded.findings]


def test_unknown_wire_and_unknown_joint_are_refused():
    with pytest.raises(CatalogueError, match="no wire"):
        plan_case(case_of(wires={"count": 1, "kinds": ["W9"]}), bone=MESH)
    with pytest.raises(CaseError, match="no joint"):
        plan_case(case_of(wires={"count": 1, "parallel_to": "joint"}), bone=MESH)
