"""Preload: what is aimed at, capped by thread and core; impossible inputs."""

import numpy as np
import pytest

from trajplan.errors import CaseError, DegenerateError
from trajplan.mechanics import (
    HAND_TORQUE,
    USEFUL_SHARE,
    Friction,
    Range,
    breaking_torque,
    core_limit,
    core_stress,
    force_from_torque,
    hand_torque,
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


AIMED = ranged(600, 1000, 1400)


def test_what_the_torque_makes_where_nothing_limits_it():
    assert values(preload(STRONG, STRONG, AIMED)) == values(AIMED)


def test_hands_tighten_in_proportion_to_what_the_core_bears():
    """The cube of the core: 1.5, 3.5 and 4.5 mm screws (cores from memory)."""
    found = hand_torque([1.1, 2.4, 3.0])
    assert found.estimate == pytest.approx(HAND_TORQUE * np.array([1.1, 2.4, 3.0]) ** 3 / 2.4**3)
    assert found.estimate[1] == HAND_TORQUE
    # least breaking torques, N·m (ISO 6475:1989, Annex A, from memory): hands stay below them
    assert (found.high < 1e3 * np.array([0.2, 2.3, 4.0])).all()
    assert (found.low < found.estimate).all()


def test_a_torque_with_bounds_and_the_friction_against_it():
    torque = Range(*(np.array([t]) for t in (800.0, 1000.0, 1100.0)))
    found = force_from_torque(torque, *SCREW)
    for bound, mu in (("low", 0.4), ("estimate", 0.3), ("high", 0.2)):
        arm = torque_per_force(*SCREW, mu)
        assert getattr(found, bound) == pytest.approx(getattr(torque, bound) / arm)


def test_no_more_than_the_useful_share_of_the_hold():
    assert values(preload(ranged(100, 500, 1000), STRONG, STRONG)) == pytest.approx(
        [USEFUL_SHARE * 100, USEFUL_SHARE * 500, USEFUL_SHARE * 1000]
    )


def test_no_more_than_the_core_bears():
    assert values(preload(STRONG, ranged(50, 60, 70), STRONG)) == [50, 60, 70]


def test_no_more_than_the_seat_bears():
    assert values(preload(STRONG, STRONG, STRONG, ranged(30, 40, 50))) == [30, 40, 50]


def test_a_seat_that_is_not_known_limits_nothing():
    unknown = ranged(np.nan, np.nan, np.nan)
    assert values(preload(STRONG, STRONG, AIMED, unknown)) == values(AIMED)
    assert np.isnan(values(preload(unknown, STRONG, AIMED, ranged(30, 40, 50)))).all()


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
    assert np.isnan(values(preload(ranged(np.nan, np.nan, np.nan), STRONG, AIMED))).all()


def test_core_stress_without_friction_is_tension_and_lead():
    # By hand: T = F p / 2π in the thread; tension 4F/πd², plastic torsion 12T/πd³.
    mu = 1e-12
    tension, torsion = 4 / (np.pi * 2.4**2), 12 * 1.25 / (2 * np.pi) / (np.pi * 2.4**3)
    assert core_stress(1.0, *THREAD, mu) == pytest.approx(np.hypot(tension, np.sqrt(3) * torsion))


def test_a_core_in_torsion_alone_breaks_at_its_plastic_torque():
    """The least torque of HA3.5 (2.3 N·m: ISO 6475:1989, from memory) needs 636 MPa of shear.

    The strength of the core is derived from such torques by ``12 T/(π d³)``: with an elastic
    stress against it, as before, the same screw would break at three quarters of that torque.
    """
    shear = 12 * 2300 / (np.pi * 2.4**3)
    huge = 1e9  # friction: the pull is as nothing beside the torque
    arm = thread_torque(*THREAD, huge)
    assert 2300 / arm * core_stress(1.0, *THREAD, huge) == pytest.approx(np.sqrt(3) * shear)


@pytest.mark.parametrize("share", [0.1, 0.5, 1.0, 2.0, 10.0])
def test_tension_and_torsion_together_are_a_lower_bound_and_near_the_exact_one(share):
    """Exact rigid-plastic bar by integration over the section (Hill 1950, from memory).

    Rates of stretching e and of twisting w: tension goes with e, shear with w r / 3, and both lie
    on von Mises' yield surface at every radius.
    """
    r = (np.arange(20000) + 0.5) / 20000
    sheared = share * r / np.sqrt(3)
    whole = np.sqrt(1.0 + sheared**2)
    pull = np.mean(2 * r / whole)  # over that of pure tension
    twist = np.mean(3 * r**2 * sheared / whole)  # over that of pure torsion
    assert 1.0 <= pull**2 + twist**2 < 1.09


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
        preload(ranged(-1, 1, 2), STRONG, AIMED)
    with pytest.raises(DegenerateError, match="negative"):
        force_from_torque([-1.0], *SCREW)
    with pytest.raises(DegenerateError, match="negative"):
        core_stress(-1.0, *THREAD, 0.3)


def test_impossible_core_strength():
    with pytest.raises(CaseError, match="core strength"):
        core_limit(*THREAD, strength=(900.0, 800.0, 1000.0))
