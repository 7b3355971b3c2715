"""How much shear and torsion a pressed surface bears before it slides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.geometry import frames

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.mechanics._load import Load

__all__ = ["friction_limit"]

#: A load below this share of the normal force is rounding: nothing slides.
NOTHING = 1e-12
#: Velocities are rounded off at this share of their mean, so that a point at rest has a
#: slope; the limit comes out too high by no more than the same share.
ROUND = 1e-8
#: Reweighting stops when the limit falls by less than this share of it.
SETTLED = 1e-10
#: Most reweightings; away from kinks 20 to 60 are needed.
STEPS = 1000
#: Motions that dissipate less than this share of the stiffest cost nothing.
FREE = 1e-14


def friction_limit(points: Vec3s, pressing: Floats, normal: Vec3, load: Load) -> float:
    """Factor on a load at which a pressed plane surface slides, for friction 1.

    Parameters
    ----------
    points : (p, 3) float array, mm
        Points that press; taken in the plane.
    pressing : (p,) float array, N
        Normal force at each, 0 or more.
    normal : (3,) float array
        Unit normal of the plane.
    load : Load
        Its part in the plane and its moment about the normal are what friction bears.

    Returns
    -------
    float
        For another coefficient multiply with it. Infinite where the load has neither shear
        nor torsion, 0 where nothing presses, NaN where a number is not known.

    Notes
    -----
    With given normal forces Coulomb friction follows the limit theorems of plasticity: the
    factor is the least work that friction takes up in any sliding and turning in which the
    load does unit work. It is found by repeated weighted least squares, which lowers it
    in every step.
    """
    total = float(pressing.sum())
    if not np.isfinite([total, *load.force, *load.moment]).all():
        return np.nan
    if total <= 0.0:
        return 0.0
    centre = pressing @ points / total
    u, v, w = frames(normal[None])[0]
    x, y = (points - centre) @ u, (points - centre) @ v
    reach = float(np.sqrt(pressing @ (x**2 + y**2) / total))
    reach = reach if reach > 0.0 else 1.0
    turn = float(load.moment_about(centre) @ w) / reach
    work = np.array([load.force @ u, load.force @ v, turn])
    if np.linalg.norm(work) <= NOTHING * total:
        return np.inf
    work[np.abs(work) <= NOTHING * np.abs(work).max()] = 0.0
    return _least_work(x / reach, y / reach, pressing, work)


def _least_work(x: Floats, y: Floats, pressing: Floats, work: Floats) -> float:
    """Least of ``Σ N |v|`` over motions with ``work · motion = 1``."""
    weight, best = pressing, np.inf
    total = float(pressing.sum())
    for _ in range(STEPS):
        motion = _weighted(x, y, weight, work)
        if motion is None:
            return 0.0
        speed = np.hypot(motion[0] - motion[2] * y, motion[1] + motion[2] * x)
        spent = float(pressing @ speed)
        if spent >= best * (1.0 - SETTLED):
            return min(spent, best)
        best = spent
        weight = pressing / np.hypot(speed, ROUND * spent / total)
    return best


def _weighted(x: Floats, y: Floats, weight: Floats, work: Floats) -> Floats | None:
    """Motion of unit work and least weighted squares; None where some motion is free."""
    moment_x, moment_y = float(weight @ x), float(weight @ y)
    total, polar = float(weight.sum()), float(weight @ (x * x + y * y))
    stiff = np.array(
        [[total, 0.0, -moment_y], [0.0, total, moment_x], [-moment_y, moment_x, polar]]
    )
    value, mode = np.linalg.eigh(stiff)
    held = value > FREE * value[-1]
    part = mode.T @ work
    if np.abs(part[~held]).max(initial=0.0) > NOTHING * np.linalg.norm(work):
        return None
    motion = mode[:, held] @ (part[held] / value[held])
    scaled: Floats = motion / (work @ motion)
    return scaled
