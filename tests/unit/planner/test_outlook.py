"""What a plan holds, presses and forgives, and how that decides among rivals."""

import math

import numpy as np
import pytest
from builders import case_of
from specimens import tube

from trajplan.checks import Limits, Verdict
from trajplan.errors import CaseError
from trajplan.mechanics import Friction, find_bone_class
from trajplan.planner import _rivals, plan_case, plan_record, study
from trajplan.planner._choose import best_set
from trajplan.planner._pressing import friction_range, press
from trajplan.planner._rivals import _Merit, choose, rival_sets
from trajplan.planner._strength import screw_forces
from trajplan.tolerance import Scatter
from trajplan.trajectory import Technique

MESH = tube(sides=32)
#: Screws that can be drilled no squarer than 10 degrees off the fracture's normal.
OFF_SQUARE = {"approach": {"direction": [1, 0, 0], "cone": 20}}


@pytest.fixture(scope="module")
def plan():
    return plan_case(case_of(), bone=MESH)


def rules(findings):
    return {finding.rule: finding for finding in findings}


def test_forces_of_each_screw_are_in_order_and_in_the_record(plan):
    forces = plan.outlook.forces
    for values in (forces.holding, forces.preload, forces.squeeze, forces.shear):
        assert (values.low <= values.estimate).all()
        assert (values.estimate <= values.high).all()
    # Squeeze and shear are the legs of the preload; source: geometry.
    assert np.hypot(forces.squeeze.estimate, forces.shear.estimate) == pytest.approx(
        forces.preload.estimate
    )
    record = plan_record(plan)
    for i, screw in enumerate(record.screws):
        assert screw.holding.estimate == pytest.approx(forces.holding.estimate[i], abs=1e-6)
        assert screw.forgiving.tilt == plan.outlook.forgiveness.tilt[i]
        assert {f.rule for f in screw.findings} >= {"holding", "head_pressure"}
    assert record.contact.force == pytest.approx(plan.outlook.pressing.force, abs=1e-6)
    assert record.contact.share == pytest.approx(
        record.contact.area / record.fracture.zones[0].area, rel=1e-3
    )
    assert record.contact.mean == pytest.approx(record.contact.force / record.contact.area)
    low, high = (math.inf if end is None else end for end in _reserve(record))
    assert low <= high


def _reserve(record):
    return record.slip_reserve.low, record.slip_reserve.high


def test_the_plan_says_how_it_presses(plan):
    found = rules(plan.findings)
    assert found["slip"].verdict in (Verdict.PASS, Verdict.CAUTION)
    assert found["contact_share"].measured == pytest.approx(100 * plan.outlook.pressing.share)


def test_nothing_presses_where_all_screws_are_position_screws(plan):
    screws = plan.assessment.screws
    from dataclasses import replace

    held = replace(screws, technique=np.full(len(screws), int(Technique.POSITION)))
    setup = plan.setup
    forces = screw_forces(held, setup.around, setup.bone_class)
    assert np.isnan(forces.preload.estimate).all()
    found = press(held, forces, setup.regions, Friction(0.3, 0.4, 0.46))
    assert not found.known
    assert not found.solved


def test_friction_range_holds_the_setting():
    assert friction_range(Limits(friction=0.4)) == Friction(0.3, 0.4, 0.46)
    assert friction_range(Limits(friction=0.2)).low == 0.2
    assert friction_range(Limits(friction=0.6)).high == 0.6
    assert friction_range(Limits(friction_most=0.5)).high == 0.5


def test_options_list_other_numbers_of_screws(plan):
    counts = [option.count for option in plan.options]
    assert counts == sorted(counts)
    assert 1 in counts
    assert 2 in counts
    one, two = plan.options[0], plan.options[1]
    assert two.squeeze > one.squeeze


def test_rivals_are_different_sets_and_the_best_comes_first():
    rng = np.random.default_rng(4)
    score = rng.random(30)
    pair = rng.random((30, 30))
    pair = (pair + pair.T) / 2.0
    place = np.repeat(np.arange(10), 3)
    found = rival_sets(score, pair, place, 2)
    assert np.array_equal(found[0], best_set(score, pair, 2)[0])
    assert len({tuple(rows) for rows in found}) == len(found) > 2
    assert rival_sets(np.zeros(0), np.zeros((0, 0)), np.zeros(0, dtype=int), 2) == []


def test_a_set_with_a_screw_that_would_do_no_work_is_the_last_choice(plan, monkeypatch):
    """The rival that is chosen first is told to have one: then another is chosen."""
    screws, setup = plan.assessment.screws, plan.setup
    rivals = [np.array([0]), np.array([1])]
    first = choose(setup, rivals, np.zeros(2), np.zeros((2, 2)), screws)
    calls = iter([first[0] == 0, first[0] == 1])
    monkeypatch.setattr(_rivals, "_useless", lambda *_: int(next(calls)))
    assert choose(setup, rivals, np.zeros(2), np.zeros((2, 2)), screws)[0] != first[0]


def test_a_screw_whose_forces_ask_for_a_decision_costs_as_a_caution(plan, monkeypatch):
    """The rival that is chosen first is told to have one: then another is chosen."""
    screws, setup = plan.assessment.screws, plan.setup
    rivals = [np.array([0]), np.array([1])]
    first = choose(setup, rivals, np.zeros(2), np.zeros((2, 2)), screws)
    calls = iter([float(first[0] == 0), float(first[0] == 1)])
    monkeypatch.setattr(_rivals, "_doubtful", lambda *_: next(calls))
    assert choose(setup, rivals, np.zeros(2), np.zeros((2, 2)), screws)[0] != first[0]


def test_what_a_line_forgives_counts_against_what_hands_err_there(plan, monkeypatch):
    """Two screws that forgive alike: where hands err ten times as much, the other is chosen."""
    setup, screws = plan.setup, plan.assessment.screws.take(np.array([0, 0]))
    rivals = [np.array([0]), np.array([1])]
    for worse in (0, 1):
        spread = np.where(np.arange(2) == worse, 28.0, 2.8)
        monkeypatch.setattr(Scatter, "at", lambda *_, spread=spread: spread)
        chosen = choose(setup, rivals, np.zeros(2), np.zeros((2, 2)), screws)
        assert chosen.tolist() == [1 - worse]


def test_what_would_do_no_work_by_its_forces(plan):
    screws, around = plan.assessment.screws, plan.setup.around
    for name, count in (("normal", 0), ("foam 10", 2)):  # heads sink into such foam
        forces = screw_forces(screws, around, find_bone_class(name))
        assert _rivals._useless(Limits(), forces) == count
    assert _rivals._useless(Limits(holding=10.0), forces) == 2
    sound = screw_forces(screws, around, find_bone_class("normal"))
    assert _rivals._doubtful(Limits(), sound) == 0.0
    needed = float(sound.holding.low[0] / sound.aimed.estimate[0])
    for more, share in ((-0.01, 0.0), (0.01, 1.0)):
        assert _rivals._doubtful(Limits(holding=needed + more), sound) == share


def test_a_set_loses_only_where_another_is_better_in_everything():
    def merit(*columns):
        return _Merit(0.0, 0.0, 0.0, 0.0, columns)

    own = merit(1000.0, 800.0, 0.9, math.inf)
    assert own.loses(merit(1100.0, 900.0, 0.95, math.inf))
    assert not own.loses(merit(1100.0, 900.0, 0.95, 3.0))
    assert not own.loses(merit(1100.0, 900.0, 0.9, math.inf))  # no better in share
    assert not own.loses(merit(1100.0, math.nan, 0.95, math.inf))  # squeeze not known
    assert not own.loses(own)


def test_weights_decide():
    geometry = {"geometry": 1.0, "contact": 0.0, "slip": 0.0, "holding": 0.0, "forgiving": 0.0}
    plain = plan_case(case_of(weights=geometry), bone=MESH)
    held = plan_case(case_of(weights={**geometry, "geometry": 0.0, "holding": 1.0}), bone=MESH)

    def weakest(one):
        return one.outlook.forces.holding.low.min()

    assert weakest(held) >= weakest(plain) - 1e-9


def test_tilt_study_slides_where_friction_says():
    # A single tilt of all screws: friction over shear is mu / tan(tilt) (Coulomb).
    rows = study(case_of(), "tilt", [0.0, 10.0, 20.0], bone=MESH)
    assert math.isinf(rows[0].slip_low)
    for row in rows[1:]:
        angle = math.radians(row.value)
        assert row.slip_low == pytest.approx(0.3 / math.tan(angle), rel=1e-3)
        assert row.slip_high == pytest.approx(0.46 / math.tan(angle), rel=1e-3)
    assert rows[2].slip_low < 1.0


def test_study_of_bone_friction_and_kind():
    normal, poor = study(case_of(), "bone", ["normal", "poor"], bone=MESH)
    assert poor.holding < normal.holding
    slippery, rough = study(case_of(screws=OFF_SQUARE), "friction", [0.2, 0.6], bone=MESH)
    assert slippery.slip_low == slippery.slip_high < rough.slip_low
    thin, thick = study(case_of(), "kind", ["HA3.5", "HA4.5"], bone=MESH)
    assert (thin.value, thick.value) == ("HA3.5", "HA4.5")


@pytest.mark.parametrize(
    ("what", "value", "said"),
    [
        ("colour", 1.0, "known are"),
        ("tilt", "steep", "give a number"),
        ("friction", -1.0, "give a number"),
        ("cortex", 5.0, "the bone's canal is modelled"),
        ("bone", "glass", "glass"),
    ],
)
def test_study_refuses_what_cannot_be(what, value, said):
    with pytest.raises(CaseError, match=said):
        study(case_of(), what, [value], bone=MESH)
