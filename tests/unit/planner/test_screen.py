"""Screening: what is kept fails nothing, and what was turned away is counted once."""

from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from builders import case_of
from mesh_files import stl_bytes, write
from specimens import box, tube

import trajplan.planner._screen as module
from trajplan.checks import Verdict, screw_rulings
from trajplan.planner import screen, set_up, work_out
from trajplan.planner._choose import pool
from trajplan.planner._rivals import scatter_of
from trajplan.planner._score import scores

MESH = tube(sides=32)


def rulings_of(setup, found, rows):
    some = found.candidates
    screws = work_out(setup, some.axes.take(rows), some.kind[rows], some.zone[rows])
    return screw_rulings(screws, setup.limits, setup.around)


def test_what_is_kept_fails_no_rule_and_the_rest_fails_some():
    setup = set_up(case_of(), bone=MESH)
    found = screen(setup)
    assert 0 < len(found.kept) < len(found.candidates.axes)
    everyone = rulings_of(setup, found, np.arange(len(found.candidates.axes)))
    failed = np.any([ruling.verdict == Verdict.FAIL for ruling in everyone], axis=0)
    assert np.flatnonzero(~failed).tolist() == found.kept.tolist()
    for tally in found.tally:
        fails = [r.verdict == Verdict.FAIL for r in everyone if r.rule == tally.rule]
        assert tally.turned_away == np.any(fails, axis=0).sum()


def test_the_nearest_miss_is_the_least_excess():
    setup = set_up(case_of(limits={"turns_least": 4.0, "turns_wanted": 4.0}), bone=MESH)
    found = screen(setup)
    (ruling,) = [
        r for r in rulings_of(setup, found, np.arange(len(found.candidates.axes)))
        if r.rule == "purchase"
    ]  # fmt: skip
    failed = ruling.verdict == Verdict.FAIL
    (tally,) = [t for t in found.tally if t.rule == "purchase"]
    assert tally.nearest_miss == pytest.approx((4.0 - ruling.measured)[failed].min())


def test_batches_change_nothing(monkeypatch):
    setup = set_up(case_of(), bone=MESH)
    whole = screen(setup)
    monkeypatch.setattr(module, "BATCH", 37)
    parts = screen(setup)
    assert np.array_equal(whole.kept, parts.kept)
    assert np.array_equal(whole.pool.rows, parts.pool.rows)
    assert whole.pool.score == pytest.approx(parts.pool.score)
    assert_same(whole.pool.screws, parts.pool.screws)
    assert [(t.rule, t.turned_away) for t in whole.tally] == [
        (t.rule, t.turned_away) for t in parts.tally
    ]


def assert_same(one, other):
    """Records that hold the same numbers, but for the order in which sums are rounded."""
    for field in fields(one):
        ours, theirs = getattr(one, field.name), getattr(other, field.name)
        if is_dataclass(ours):
            assert_same(ours, theirs)
        elif isinstance(ours, np.ndarray) and ours.dtype == np.float64:
            np.testing.assert_allclose(ours, theirs, rtol=0.0, atol=1e-9)
        else:
            np.testing.assert_array_equal(ours, theirs)


def test_the_pool_holds_the_best_as_they_come_out_alone():
    """Chosen from all scores at once, and worked out again."""
    setup = set_up(case_of(screws={"candidates": 20000, "kinds": ["HA3.5"]}), bone=MESH)
    found = screen(setup)
    every, some = found.kept, found.candidates
    assert len(every) > 2 * len(found.pool.rows)
    screws = work_out(setup, some.axes.take(every), some.kind[every], some.zone[every])
    rulings = screw_rulings(screws, setup.limits, setup.around, measure=False)
    score = scores(screws, rulings, setup.limits, setup.around.zones, scatter_of(setup).entry)
    best = pool(score, some.place[every], setup.case.screws.count)
    assert np.array_equal(found.pool.rows, every[best])
    assert found.pool.score == pytest.approx(score[best])
    assert_same(found.pool.screws, screws.take(best))


def test_a_candidate_near_two_joints_is_turned_away_once(tmp_path):
    for name in ("one", "two"):
        write(tmp_path / f"{name}.stl", stl_bytes(box((-30, -30, 20), (30, 30, 80))))
    joints = [
        {"name": name, "mesh": str(tmp_path / f"{name}.stl"), "clearance": 40.0}
        for name in ("one", "two")
    ]
    setup = set_up(case_of(joint=joints), bone=MESH)
    (tally,) = [t for t in screen(setup).tally if t.rule == "joint_clearance"]
    assert 0 < tally.turned_away <= len(screen(setup).candidates.axes)


def test_tilt_stays_below_the_angle_at_which_fragments_slide():
    setup = set_up(case_of(limits={"friction": 0.1, "max_tilt": 30.0}), bone=MESH)
    found = screen(setup)
    cosine = np.abs(found.candidates.axes.direction @ setup.around.zones[0].plane.normal)
    assert np.degrees(np.arccos(cosine.min())) <= np.degrees(np.arctan(0.1)) + 1e-6
