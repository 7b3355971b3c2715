"""How much shear and torsion a pressed surface bears before it slides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions
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


def friction_limit(
    points: Vec3s, pressing: Floats, normal: Vec3s | Vec3, load: Load, sliding: Floats | None = None
) -> float:
    """Factor on a load at which a pressed surface slides, for friction 1.

    Parameters
    ----------
    points : (p, 3) float array, mm
        Points that press.
    pressing : (p,) float array, N
        Normal force at each, 0 or more.
    normal : (3,) or (p, 3) float array
        Unit normal of the plane, or of the surface at each point.
    load : Load
        What friction bears.
    sliding : (6, k) float array, optional
        Motions in which it can slide: of the load's point, mm, then turns, rad. By default
        those of a plane: along it both ways, and round its normal.

    Returns
    -------
    float
        For another coefficient multiply with it. Infinite where the load does no work in any
        motion, 0 where nothing presses, NaN where a number is not known.

    Notes
    -----
    With given normal forces Coulomb friction follows the limit theorems of plasticity: the
    factor is the least work that friction takes up in any sliding motion in which the load
    does unit work. It is found by repeated weighted least squares, which lowers it in every
    step. Where a motion would run up a slope of the surface, the slope is not counted.
    """
    total = float(pressing.sum())
    if not np.isfinite([total, *load.force, *load.moment]).all():
        return np.nan
    if total <= 0.0:
        return 0.0
    on = pressing > 0.0
    spots, push = points[on], pressing[on]
    if sliding is None:
        sliding = _in_plane(spots, push, as_directions(normal)[0], load.point)
    work = sliding.T @ np.concatenate([load.force, load.moment])
    if np.linalg.norm(work) <= NOTHING * total:
        return np.inf
    work[np.abs(work) <= NOTHING * np.abs(work).max()] = 0.0
    offset = spots - load.point
    moves = sliding[:3].T[:, None] + np.cross(sliding[3:].T[:, None], offset)  # (k, p, 3)
    tangent = frames(normal[None] if normal.ndim == 1 else normal[on])
    one, other = (np.ascontiguousarray((moves * tangent[:, i]).sum(axis=2)) for i in (0, 1))
    return _least_work(one, other, push, work)


def _in_plane(points: Vec3s, pressing: Floats, normal: Vec3, about: Vec3) -> Floats:
    """Both ways along a plane and a turn round the middle of the pressure, as fast at its reach."""
    offset = points - pressing @ points / pressing.sum()
    offset = offset - (offset @ normal)[:, None] * normal
    reach = float(np.sqrt(pressing @ (offset**2).sum(axis=1) / pressing.sum())) or 1.0
    sliding = np.zeros((6, 3))
    sliding[:3, :2] = frames(normal[None])[0, :2].T
    sliding[3:, 2] = normal / reach
    sliding[:3, 2] = np.cross(normal / reach, about - pressing @ points / pressing.sum())
    return sliding


def _least_work(one: Floats, other: Floats, pressing: Floats, work: Floats) -> float:
    """Least of ``Σ N |v|`` over motions with ``work · motion = 1``.

    ``one`` and ``other``, (k, p), are the speeds along the surface for each motion.
    """
    weight, best = pressing, np.inf
    total = float(pressing.sum())
    for _ in range(STEPS):
        motion = _weighted((one * weight) @ one.T + (other * weight) @ other.T, work)
        if motion is None:
            return 0.0
        speed = np.hypot(motion @ one, motion @ other)
        spent = float(pressing @ speed)
        if spent >= best * (1.0 - SETTLED):
            return min(spent, best)
        best = spent
        weight = pressing / np.hypot(speed, ROUND * spent / total)
    return best


def _weighted(stiff: Floats, work: Floats) -> Floats | None:
    """Motion of unit work and least weighted squares; None where some motion is free."""
    value, mode = np.linalg.eigh(stiff)
    held = value > FREE * value[-1]
    part = mode.T @ work
    if np.abs(part[~held]).max(initial=0.0) > NOTHING * np.linalg.norm(work):
        return None
    motion = mode[:, held] @ (part[held] / value[held])
    scaled: Floats = motion / (work @ motion)
    return scaled
