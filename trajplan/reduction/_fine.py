"""The fine fit: from a start some millimetres off to the best pose near it.

Weighted least squares of the three parts of a fit (see `_pair`), by Gauss and Newton; far
partners count less and less as the fit goes on (Geman and McClure's weight).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial.transform import Rotation

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3
    from trajplan.reduction._pair import Pair

__all__ = ["Fit", "Weights", "apart", "rigid", "turned_by"]

#: Share of a gap that counts: bone is lost, never gained, so a gap may be what is missing, an
#: overlap may not (measured: without it the fit closes by the bone lost, 0.1 mm more).
GAP_COUNTS = 0.4
#: mm: scale of the misfit at the start and at the end of the fit.
WIDE, NARROW = 1.2, 0.25
#: Share of the rounds after which reach and scale stay.
SETTLE = 0.6
#: Least number of partners that a fit of six freedoms rests on.
LEAST_LINKS = 12
#: rad: most that one round may turn.
MOST_STEP = 0.2
#: Share of the stiffest freedom that damps the steps of all: a freedom that nothing holds, as the
#: turn of a round shaft, would wander off (measured: by 76 degrees on a plain tube).
DAMPED = 1e-3
#: mm: the fit is done where the fracture's points move less in a round.
DONE = 1e-4


@dataclass(frozen=True, slots=True)
class Weights:
    """How the fit goes about it."""

    rounds: int = 30
    reach: tuple[float, float] = (5.0, 1.5)  # mm, how far partners may be at first, at last
    wall: float = 1.0  # weight of the outer wall against the broken surface
    push: float = 1.0  # weight of bone in bone


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fitted pose."""

    pose: Floats  # (4, 4) mm, of the moving fragment
    normal: Floats  # (6, 6) normal matrix, turn (rad) then shift (mm), weights in mm²
    about: Vec3  # (3,) mm, point that it turns about
    misfit: float  # mm, root mean square of what counted

    @classmethod
    def of(cls, pair: Pair, start: Floats, weights: Weights) -> Fit | None:
        """Fit from a start; None where too little meets there."""
        return _fit(pair, start, weights)


def rigid(rotation: Floats, shift: Floats) -> Floats:
    """A (4, 4) matrix from turn and shift."""
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = rotation, shift
    return matrix


def turned_by(matrix: Floats) -> float:
    """Angle of a turn, degrees."""
    return float(np.degrees(Rotation.from_matrix(matrix[:3, :3]).magnitude()))


def apart(first: Floats, second: Floats, about: Vec3) -> Floats:
    """Movement between two poses: turn (rad) and shift of a point (mm), (6,)."""
    turn = Rotation.from_matrix(first[:3, :3] @ second[:3, :3].T).as_rotvec()
    place = (matrix[:3, :3] @ about + matrix[:3, 3] for matrix in (first, second))
    return np.concatenate([turn, np.subtract(*place)])


def _fit(pair: Pair, start: Floats, weights: Weights) -> Fit | None:
    pose, about = start, start[:3, :3] @ pair.middle + start[:3, 3]
    normal, misfit = np.eye(6), np.inf
    for number in range(weights.rounds):
        done = min(1.0, number / (SETTLE * weights.rounds))
        rows = _rows(pair, pose, weights, done)
        if rows is None:
            return None
        points, normals, height, weight = rows
        lever = np.hstack([np.cross(points - about, normals), normals])
        normal = (lever * weight[:, None]).T @ lever
        misfit = float(np.sqrt(np.average(height**2, weights=weight)))
        damped = normal + np.diag(DAMPED * _stiffest(normal) + 1e-9)
        step = -np.linalg.solve(damped, lever.T @ (weight * height))
        step *= min(1.0, MOST_STEP / max(float(np.linalg.norm(step[:3])), 1e-9))
        turn = Rotation.from_rotvec(step[:3]).as_matrix()
        pose = rigid(turn, about + step[3:] - turn @ about) @ pose
        about = about + step[3:]
        if done >= 1.0 and 20.0 * np.linalg.norm(step[:3]) + np.linalg.norm(step[3:]) < DONE:
            break
    return Fit(_squared(pose), normal, about, misfit)


def _stiffest(normal: Floats) -> Floats:
    """Stiffest turn and stiffest shift, each for its three freedoms, (6,)."""
    own = np.diag(normal)
    return np.repeat([own[:3].max(), own[3:].max()], 3)


def _rows(
    pair: Pair, pose: Floats, weights: Weights, done: float
) -> tuple[Floats, Floats, Floats, Floats] | None:
    """Points, normals, heights and weights of one round; `done` runs from 0 to 1."""
    first, last = weights.reach
    links = pair.links(pose, first * (last / first) ** done)
    if len(links.weight) < LEAST_LINKS:
        return None
    scale = 2.0 * WIDE * (NARROW / WIDE) ** done
    height = links.height
    counted = np.where(links.broken & (height > 0.0), GAP_COUNTS * height, height)
    weight = links.weight * np.where(links.broken, 1.0, weights.wall)
    weight = weight / (1.0 + (counted / scale) ** 2) ** 2
    points, normals = links.moving, links.normal
    if weights.push > 0.0:
        x, _, n, area, depth = pair.inside(pose)
        points, normals = np.vstack([points, x]), np.vstack([normals, n])
        height = np.append(height, depth + 0.2)
        deep = np.minimum(-depth, 3.0) / 2.0
        weight = np.append(weight, weights.push * area / (1.0 + deep**2))
    return points, normals, height, weight


def _squared(pose: Floats) -> Floats:
    """The pose without the rounding of many small turns."""
    left, _, right = np.linalg.svd(pose[:3, :3])
    return rigid(left @ right, pose[:3, 3])
