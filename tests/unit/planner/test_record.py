"""What a plan file says is what was worked out."""

from datetime import UTC, datetime

import numpy as np
import pytest
from builders import case_of
from specimens import cylinder, tube

from trajplan.planner import plan_case, plan_record

THEN = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)


@pytest.fixture(scope="module")
def plan():
    case = case_of(title="Trial", frame="LPS", limits={"max_tilt": 15.0})
    return plan_case(case, bone=tube(sides=32))


@pytest.fixture(scope="module")
def record(plan):
    return plan_record(plan, created=THEN)


def test_depths_are_those_of_the_screws(plan, record):
    screws = plan.assessment.screws
    for i, screw in enumerate(record.screws):
        assert screw.entry == pytest.approx(screws.corridors.axes.origin[i], abs=1e-5)
        way = np.subtract(screw.exit, screw.entry)
        assert np.linalg.norm(way) == pytest.approx(screws.corridors.exit[i], abs=1e-5)
        assert way / np.linalg.norm(way) == pytest.approx(screw.direction, abs=1e-6)
        assert screw.gauge == pytest.approx(screws.gauge[i], abs=1e-5)
        depth = screw.fracture_depth
        assert depth.min <= depth.axis <= depth.max
        assert screw.thread_hole.start == pytest.approx(screw.gliding_hole.end)
        assert depth.max <= screw.gliding_hole.end < depth.max + 0.5  # rounded up
        first, last = screw.intervals[0], screw.intervals[-1]
        assert first[0] == pytest.approx(0.0, abs=1e-9)
        assert last[1] == pytest.approx(screws.corridors.exit[i], abs=1e-5)
        assert screw.near_cortex.basis == screw.far_cortex.basis == "modelled"
        assert screw.near_cortex.thickness == pytest.approx(first[1])
        assert screw.unknown_intervals == ()


def test_limits_say_which_were_changed(record):
    changed = {limit.name: (limit.value, limit.default) for limit in record.limits if limit.changed}
    assert changed == {"max_tilt": (15.0, 20.0)}
    assert all(limit.source for limit in record.limits)


def test_what_it_rests_on(record):
    assert (record.title, record.frame, record.created) == (
        "Trial", "LPS", "2026-01-02T03:04:05+00:00",
    )  # fmt: skip
    (mesh,) = record.meshes
    assert (mesh.role, mesh.name, len(mesh.sha256)) == ("bone", "shaft.stl", 64)
    assert any("not a medical device" in line.lower() for line in record.cautions)
    assert any("Friction" in line for line in record.assumptions)
    assert any("not verified against the standard" in line for line in record.assumptions)


def test_an_assumed_cortex_is_written_down_as_one():
    solid = cylinder(14.0, 100.0, 32)
    case = case_of(bone={"cortex": 5.0}, screws={"count": 1})
    record = plan_record(plan_case(case, bone=solid), created=THEN)
    (screw,) = record.screws
    assert screw.near_cortex.basis == "assumed"
    verdicts = {finding.rule: finding.verdict for finding in screw.findings}
    assert verdicts["cortex_known"] == "note"
    assert any("cortex of 5 mm is assumed" in line for line in record.assumptions)
    unknown = plan_record(plan_case(case_of(screws={"count": 1}), bone=solid), created=THEN)
    verdicts = {finding.rule: finding.verdict for finding in unknown.screws[0].findings}
    assert (verdicts["cortex_known"], verdicts["purchase"]) == ("unknown", "unknown")
    assert unknown.verdict != "pass"
