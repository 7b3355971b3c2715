"""Preload: what is aimed at, capped by thread and core; impossible inputs."""

import numpy as np
import pytest

from trajplan.errors import CaseError, DegenerateError
from trajplan.mechanics import (
    LAG_FORCE,
    USEFUL_SHARE,
    Friction,
    Range,
    breaking_torque,
    core_limit,
    core_stress,
    force_from_torque,
    preload,
    stripping_torque,
    thread_torque,
    torque_per_force,
)

THREAD = (1.25, 3.5, 2.4)  # pitch, thread, core: HA 3.5
SCREW = (*THREAD, 6.0, 3.5)  # and head, hole


def ranged(*values):
    return Range(*(np.array([float(v)]) for v in values))


STRONG = ranged(1e6, 1e6, 1e6)


def values(found):
    return [float(v[0]) for v in (found.low, found.estimate, found.high)]


def test_published_spread_where_nothing_limits_it():
    assert values(preload(STRONG, STRONG)) == list(LAG_FORCE)


def test_no_more_than_the_useful_share_of_the_hold():
    assert values(preload(ranged(100, 500, 1000), STRONG)) == pytest.approx(
        [USEFUL_SHARE * 100, USEFUL_SHARE * 500, USEFUL_SHARE * 1000]
    )


def test_no_more_than_the_core_bears():
    assert values(preload(STRONG, ranged(50, 60, 70))) == [50, 60, 70]


def test_no_more_than_the_seat_bears():
    assert values(preload(STRONG, STRONG, seat=ranged(30, 40, 50))) == [30, 40, 50]


def test_a_seat_that_is_not_known_limits_nothing():
    unknown = ranged(np.nan, np.nan, np.nan)
    assert values(preload(STRONG, STRONG, seat=unknown)) == list(LAG_FORCE)
    assert np.isnan(values(preload(unknown, STRONG, seat=ranged(30, 40, 50)))).all()


def test_torque_aimed_at_and_tightening_past_the_useful_share():
    hold = ranged(1000, 1000, 1000)
    strips = stripping_torque(hold, *SCREW)
    friction = Friction(0.3, 0.3, 0.3)
    cap = force_from_torque(0.8 * strips.estimate, *SCREW, friction).estimate
    more = force_from_torque(0.95 * strips.estimate, *SCREW, friction)
    assert preload(hold, STRONG, more).estimate == pytest.approx(cap)


def test_more_friction_makes_less_force():
    found = values(force_from_torque([1000.0], *SCREW))
    assert found[0] < found[1] < found[2]


def test_unknown_hold_is_unknown_preload():
    assert np.isnan(values(preload(ranged(np.nan, np.nan, np.nan), STRONG))).all()


def test_core_stress_without_friction_is_tension_and_lead():
    # By hand: T = F p / 2π in the thread; tension 4F/πd², torsion 16T/πd³.
    mu = 1e-12
    tension, torsion = 4 / (np.pi * 2.4**2), 16 * 1.25 / (2 * np.pi) / (np.pi * 2.4**3)
    assert core_stress(1.0, *THREAD, mu) == pytest.approx(np.hypot(tension, np.sqrt(3) * torsion))


def test_core_limit_reaches_the_strength():
    limit = core_limit(*THREAD)
    assert core_stress(limit.estimate, *THREAD, 0.3) == pytest.approx(1004.0)
    assert limit.low < limit.estimate < limit.high


def test_the_core_gives_way_at_the_torque_of_its_limit():
    """Force that the core bears times the torque for each newton, both by their own formula."""
    found, bears = breaking_torque(*SCREW), core_limit(*THREAD)
    assert found.estimate == pytest.approx(bears.estimate * torque_per_force(*SCREW, 0.3))
    assert found.low < found.estimate < found.high
    # HA3.5 is asked to bear 2.3 N·m in a machine (ISO 6475:1989, from memory), without a pull:
    # the thread's share of the torque of a screw drawn tight lies below that
    assert bears.high * thread_torque(*THREAD, 0.2) < 2.5e3


@pytest.mark.parametrize(
    "bad", [(0, 0.3, 0.4), (-0.1, 0.3, 0.4), (0.4, 0.3, 0.5), (0.1, 0.2, np.nan)]
)
def test_impossible_friction(bad):
    with pytest.raises(CaseError, match="friction"):
        Friction(*bad)


@pytest.mark.parametrize("mu", [0.0, -0.3, np.nan])
def test_impossible_friction_in_a_formula(mu):
    with pytest.raises(DegenerateError, match="friction"):
        torque_per_force(*SCREW, mu)


def test_negative_forces_and_torques():
    with pytest.raises(DegenerateError, match="negative"):
        preload(ranged(-1, 1, 2), STRONG)
    with pytest.raises(DegenerateError, match="negative"):
        force_from_torque([-1.0], *SCREW)
    with pytest.raises(DegenerateError, match="negative"):
        core_stress(-1.0, *THREAD, 0.3)


def test_impossible_core_strength():
    with pytest.raises(CaseError, match="core strength"):
        core_limit(*THREAD, strength=(900.0, 800.0, 1000.0))
