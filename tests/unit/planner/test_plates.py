"""Plates of a plan: laid and filled beside the lag screws, and judged with them."""

from pathlib import Path

import numpy as np
import pytest

from trajplan.checks import Verdict
from trajplan.files import read_case
from trajplan.planner import plan_case, plan_record

MESHES = Path(__file__).parents[3] / "meshes"


@pytest.fixture(scope="module")
def protect():
    wanted = {
        "plate": [{"kind": "Narrow4.5", "holes": 12, "side": {"direction": [0, 1, 0], "cone": 40}}],
        "screws": {"candidates": 600},
        "placement": {"draws": 0},
    }
    plan = plan_case(read_case(MESHES / "spiral.toml", wanted))
    return plan, plan_record(plan)


def test_a_long_fracture_gets_a_plate_that_protects(protect):
    _, record = protect
    (plate,) = record.plates
    assert (plate.id, plate.work, plate.proposed) == ("plate 1", "protect", True)
    assert "protect" not in plate.why
    assert "lag screws press it" in plate.why
    assert np.array(plate.out)[4] @ [0, 1, 0] > np.cos(np.radians(45.0))


def test_no_screw_of_a_plate_crosses_the_fracture_or_meets_another(protect):
    plan, record = protect
    (plate,) = plan.plates
    assert not plate.screws.crosses.any()
    assert (plate.screws.cone <= 1.0 + 1e-9).all()
    apart = [f for f in plate.findings if f.rule in ("screw_gap", "plate_meets_screw")]
    assert apart
    assert all(f.verdict is Verdict.PASS for f in apart)
    filled = [hole for hole in record.plates[0].hole if hole.screw]
    assert all(hole.use == "neutral" and not hole.why for hole in filled)
    assert all(hole.why for hole in record.plates[0].hole if hole.use == "empty")


def test_screws_of_a_plate_are_as_long_as_plate_gap_and_bone(protect):
    _, record = protect
    (plate,) = record.plates
    for screw in plate.screws:
        depth = np.dot(np.subtract(screw.exit, screw.entry), screw.direction)
        assert screw.gauge == pytest.approx(depth - screw.seat, abs=1.5)
        assert screw.length >= screw.gauge
        assert screw.zone is None
        assert screw.tilt is None
