"""Plates of a plan: laid and filled beside the lag screws, and judged with them."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from phantoms import ct_from, field_from, middled, volume_of

from trajplan.checks import Verdict
from trajplan.files import read_case
from trajplan.mechanics import Range, soft_strength
from trajplan.planner import plan_case, plan_record
from trajplan.planner._plate_forces import _bears, _free_end, plate_forces
from trajplan.planner._plate_places import bed_for
from trajplan.planner._plate_plan import lags_missing
from trajplan.planner._plate_starts import laid_plates
from trajplan.planner._plate_wish import plate_wishes
from trajplan.planner._setup import set_up

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


def test_screws_of_a_plate_hold_in_the_bone_that_a_ct_shows():
    """Inside the walls hold goes with the strength that the density gives, and with no class."""
    wanted = {"screws": {"candidates": 300}, "placement": {"draws": 0}}
    plan = plan_case(read_case(MESHES / "plate_buttress.toml", wanted))
    (plate,) = plan.plates
    surface, size = plan.setup.bone.surface.vertices, (90, 90, 120)
    matrix = middled(size, (1.5, 1.5, 1.5), None, surface.mean(axis=0))
    held, strength = [], []
    for hu in (200.0, 500.0, 700.0):
        values = volume_of(lambda at, hu=hu: np.full(at.shape[:-1], hu), size, matrix)
        field = field_from(ct_from(values, matrix), surface)
        settings = replace(plan.setup.settings, field=field)
        held.append(plate_forces(replace(plan.setup, settings=settings), plate).holding.estimate[0])
        density = field.calibration.apparent(np.array([hu]))
        strength.append(float(soft_strength(Range(*density), "shear").estimate[0]))
    rise, more = np.diff(held), np.diff(strength)
    assert rise[0] > 100.0
    assert rise[1] / rise[0] == pytest.approx(more[1] / more[0], rel=1e-6)


def test_lag_screws_that_are_missing_beside_a_plate_that_presses_are_counted():
    presses = SimpleNamespace(works=(SimpleNamespace(work="compress"),))
    # straight across, a fracture is pressed by the plate and by no lag screw
    for name, missing in (("plate_through", [3, 2, 1, 0]), ("plate_compress", [0] * 4)):
        setup = set_up(read_case(MESHES / f"{name}.toml", {"screws": {"count": 3}}))
        picks = [SimpleNamespace(plating=presses, chosen=np.arange(k)) for k in range(4)]
        assert [lags_missing(setup, pick) for pick in picks] == missing


def test_a_plate_laid_by_the_line_of_a_plan_lies_where_it_lay():
    # two bends to and fro, as a plate that was planned has them: drawn in a few points, as its
    # whole line, and by its holes
    line = [[15.9, 3.1, -36.0], [16.0, 1.1, -15.2], [17.0, -0.9, 0.6], [21.1, -3.6, 15.8],
            [28.2, -7.3, 29.6], [37.4, -12.0, 48.6]]  # fmt: skip
    laid = _laid_at("line", line)
    for key, points in (("line", laid.shape.points[0]), ("at", laid.centres[0])):
        again = _laid_at(key, points.tolist())
        assert np.linalg.norm(again.centres[0] - laid.centres[0], axis=1).max() < 1.5
        assert again.hole_gap[0].max() < laid.hole_gap[0].max() + 0.1


def _laid_at(key, points):
    plate = {"kind": "Reconstruction4.5", "work": "buttress", key: points}
    setup = set_up(read_case(MESHES / "plate_buttress.toml", {"plate": [plate]}))
    (wish,) = plate_wishes(setup)
    return laid_plates(setup, wish, "buttress", bed_for(setup, wish), 6)


def test_what_a_plate_bears_next_to_the_fracture():
    # a lever over the screw 6.5 mm from the fracture, held down 16 mm behind it: the plate yields
    # at that screw's hole, or the screw is pulled out (statics; net section, handbooks)
    section = SimpleNamespace(yield_moment=2700.0)  # N mm, the whole section
    size = SimpleNamespace(
        hole=SimpleNamespace(thread=(4.5,)), width=12.0,
        places=lambda holes: 8.0 + 16.0 * np.arange(holes), length=lambda holes: 16.0 * holes,
    )  # fmt: skip
    plate = SimpleNamespace(
        work=SimpleNamespace(work="buttress"), laid=SimpleNamespace(plate=size, holes=4),
        side=np.array([-1, -1, 1, 1]), shaft=-1, along=np.array([22.5, 6.5, -9.5, -25.5]),
        screws=SimpleNamespace(hole=np.array([0, 1])),
    )  # fmt: skip
    found = _bears(plate, section, Range(*(np.array([v, v]) for v in (100.0, 2000.0, 4000.0))))
    yields = 2700.0 * (1.0 - 4.5 / 12.0) / 6.5
    np.testing.assert_allclose(found.low, 100.0 * 16.0 / 22.5)  # pulled out
    np.testing.assert_allclose([found.estimate, found.high], yields)
    assert _free_end(plate) == 64.0 - 24.0
    # turned end for end it bears the same
    other = SimpleNamespace(**vars(plate) | {
        "side": -plate.side[::-1], "shaft": 1, "along": -plate.along[::-1],
        "screws": SimpleNamespace(hole=np.array([2, 3])),
    })  # fmt: skip
    held = Range(*(np.array([v, v]) for v in (100.0, 2000.0, 4000.0)))
    np.testing.assert_allclose(_bears(other, section, held).low, found.low)
    assert _free_end(other) == _free_end(plate)
    other.screws = SimpleNamespace(hole=np.array([3]))  # one screw holds no lever
    assert _bears(other, section, held) is None


def test_lag_screws_that_a_protecting_plate_leaves_no_room_for_ask_for_a_decision():
    """Lag screws and a plate share one bone: fewer screws under a plate are no failure."""
    wanted = {
        "plate": [{"kind": "Narrow4.5", "holes": 12, "side": {"direction": [0, 1, 0], "cone": 40}}],
        "screws": {"candidates": 60, "count": 6},
        "placement": {"draws": 0},
    }
    plan = plan_case(read_case(MESHES / "spiral.toml", wanted))
    placed = len(plan.assessment.ids)
    assert plan.plates
    assert 1 <= placed < 6
    (count,) = [finding for finding in plan.findings if finding.rule == "count"]
    assert count.verdict is Verdict.CAUTION
    assert (count.measured, count.limit) == (placed, 6.0)
    assert "beside the plate" in count.why
