"""Semismooth Newton method for springs that only press."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats

__all__ = ["minimise"]

#: Newton steps; as a rule four to eight are needed, where one corner touches up to 20.
STEPS = 50
#: Halvings of a step.
HALVINGS = 40
#: Share of the promised descent that a step must bring (common practice).
ARMIJO = 1e-4
#: Share of the energy that is rounding: near the minimum no step descends by more.
ROUNDING = 1e-14
#: Added to the stiffness, as a share of it, where too few springs press to hold the body.
RIDGE = 1e-9


def minimise(rows: Floats, spring: Floats, load: Floats, balance: float) -> tuple[Floats, int]:
    """Minimise the energy of springs that only press, less the work of a load.

    Parameters
    ----------
    rows : (p, m) float array
        Closing of each spring for each motion; of rank m.
    spring : (p,) float array
        Stiffness of each spring.
    load : (m,) float array
        Generalised force on each motion.
    balance : float
        Share of the load within which springs and load must balance.

    Returns
    -------
    motion : (m,) float array
        The last motion tried: a minimum where its springs balance the load.
    steps : int
        Newton steps taken.

    Notes
    -----
    The energy ``½ Σ k max(0, a·q)² - w·q`` is convex and piecewise quadratic; once the
    pressing springs are those of the minimum, one full step lands on it.
    """
    stiffness = (rows * spring[:, None]).T @ rows
    motion = np.asarray(np.linalg.solve(stiffness, load), dtype=np.float64)
    goal = 0.1 * balance * float(np.linalg.norm(load))
    energy, slope = _energy(rows, spring, load, motion)
    for step in range(STEPS):
        if np.linalg.norm(slope) <= goal:
            return motion, step
        way = _step(rows, spring, stiffness, motion, slope)
        moved = _descend(rows, spring, load, motion, way, energy, float(slope @ way))
        if moved is None:
            return motion, step
        motion = moved
        energy, slope = _energy(rows, spring, load, motion)
    return motion, STEPS


def _energy(rows: Floats, spring: Floats, load: Floats, motion: Floats) -> tuple[float, Floats]:
    closing = np.maximum(rows @ motion, 0.0)
    push = spring * closing
    return float(0.5 * push @ closing - load @ motion), push @ rows - load


def _step(rows: Floats, spring: Floats, stiffness: Floats, motion: Floats, slope: Floats) -> Floats:
    on = rows @ motion > 0.0
    pressing = rows[on]
    hessian = (pressing * spring[on, None]).T @ pressing
    ridge = RIDGE * np.trace(stiffness) / len(slope)
    if len(pressing) == 0 or np.linalg.cond(hessian) > 1.0 / RIDGE:
        hessian += ridge * np.eye(len(slope))
    return np.asarray(-np.linalg.solve(hessian, slope), dtype=np.float64)


def _descend(
    rows: Floats,
    spring: Floats,
    load: Floats,
    motion: Floats,
    way: Floats,
    energy: float,
    promised: float,
) -> Floats | None:
    """Halve a step until it descends; None where none does."""
    length, slack = 1.0, ROUNDING * abs(energy)
    for _ in range(HALVINGS):
        trial: Floats = motion + length * way
        if _energy(rows, spring, load, trial)[0] <= energy + ARMIJO * length * promised + slack:
            return trial
        length *= 0.5
    return None
