"""How sure a pose is, without the truth.

A good score proves nothing: wrong poses scored above the truth. Together these tell wrong from
right: how far the answer moves when one sector of the break after the other is left out; how far
broken surfaces alone and outer wall counted more come apart; how near the next pose of another
kind comes; and which way the piece may still slide.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.reduction._fine import Fit, Weights, apart
from trajplan.reduction._near import nearest
from trajplan.reduction._pair import ALIKE, NORMAL, WALL_REACH, calmed
from trajplan.reduction._samples import moved
from trajplan.reduction._types import NAN, Slides

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3
    from trajplan.reduction._pair import Pair
    from trajplan.reduction._samples import Samples

__all__ = ["Certainty", "certainty", "covered"]

#: Sectors of the break that are left out in turn (six: each about a thread's width of a shaft).
SECTORS = 6
#: Least samples of a break that are left when a sector is out.
LEAST = 20
#: Rounds of the fits from a pose that is nearly right.
NEAR = Weights(rounds=12, reach=(2.0, 1.5), push=0.0)
FACES = Weights(rounds=14, reach=(2.0, 1.5), wall=0.02, push=0.0)
WALL = Weights(rounds=14, reach=(2.0, 1.5), wall=4.0, push=0.0)
#: mm: outer wall so near to the broken surface lies along the fracture line.
LINE = 2.5
#: mm: least misfit that is believed: a smooth model has no noise, a bone always has.
LEAST_MISFIT = 0.2
#: mm²: misfits within one such patch go together, so many are one witness: waves of noise and
#: of lost bone are about 3 mm long.
PATCH = 9.0


@dataclass(frozen=True, slots=True)
class Certainty:
    """How sure the pose of a moving fragment is."""

    steady_shift: float = NAN  # mm
    steady_turn: float = NAN  # degrees
    agree_shift: float = NAN  # mm
    agree_turn: float = NAN  # degrees
    slides: Slides = field(default_factory=Slides)


def certainty(pair: Pair, fit: Fit) -> Certainty:
    """Measure how sure a pose is.

    Parameters
    ----------
    pair : Pair
        Standing and moving fragment.
    fit : Fit
        The pose.

    Returns
    -------
    Certainty
    """
    steady = _steady(pair, fit.pose)
    agree = _agree(pair, fit.pose)
    return Certainty(*steady, *agree, slides=_slides(pair, fit))


def covered(samples: Sequence[Samples], poses: Sequence[Floats]) -> tuple[float, ...]:
    """Share of each fragment's fracture line beyond which the outer wall goes on in another.

    Parameters
    ----------
    samples : sequence of Samples
        Labelled.
    poses : sequence of (4, 4) float array

    Returns
    -------
    tuple of float
        0..1; NaN for a piece without a shaft, whose fracture line is not known.
    """
    placed = [one.moved(pose) for one, pose in zip(samples, poses, strict=True)]
    return tuple(_covered(one, [other for other in placed if other is not one]) for one in placed)


def _covered(one: Samples, others: Sequence[Samples]) -> float:
    wall = np.flatnonzero(one.wall)
    if one.shaft is None:
        return NAN
    away, _ = nearest(cKDTree(one.points[one.broken]), one.points[wall], LINE)
    line = wall[np.isfinite(away)]
    points, normals = zip(*(calmed(other) for other in others), strict=True)
    rows = [other.wall for other in others]
    place = np.concatenate([p[row] for p, row in zip(points, rows, strict=True)])
    out = np.concatenate([n[row] for n, row in zip(normals, rows, strict=True)])
    tree = cKDTree(np.hstack([place, NORMAL * out]))
    mine, mine_out = (values[line] for values in calmed(one))
    _, which = nearest(tree, np.hstack([mine, NORMAL * mine_out]))
    near = ((mine - place[which]) ** 2).sum(axis=1) < WALL_REACH**2
    met = near & (np.einsum("ij,ij->i", mine_out, out[which]) > ALIKE)
    areas = one.areas[line]
    return float(areas[met].sum() / max(areas.sum(), np.finfo(float).tiny))


def _axis(pair: Pair, pose: Floats) -> Vec3:
    """Axis of the shaft; of two pieces without one, the normal of the break."""
    if pair.standing.shaft is not None:
        return pair.standing.shaft.axis
    if pair.moving.shaft is not None:
        turned: Vec3 = pose[:3, :3] @ pair.moving.shaft.axis
        return turned
    points = pair.standing.points[pair.breaks[0]]
    normal: Vec3 = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][2]
    return normal


def _across(axis: Vec3) -> Floats:
    """Two directions square to an axis, (2, 3)."""
    first = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(axis, first)])


def _steady(pair: Pair, pose: Floats) -> tuple[float, float]:
    """Jackknife by sectors: standard errors of shift and turn."""
    middle = moved(pose, pair.middle[None])[0]
    across = _across(_axis(pair, pose))
    numbers = []
    for points in (pair.standing.points, moved(pose, pair.moving.points)):
        u, v = across @ (points - middle).T
        share = np.arctan2(v, u) / (2.0 * np.pi) + 0.5
        numbers.append(np.floor(share * SECTORS).astype(np.int64) % SECTORS)
    ways = []
    for sector in range(SECTORS):
        part = pair.kept(numbers[0] != sector, numbers[1] != sector)
        if min(map(len, part.breaks)) < LEAST:
            continue
        fit = Fit.of(part, pose, NEAR)
        if fit is not None:
            ways.append(apart(fit.pose, pose, pair.middle))
    if len(ways) < SECTORS // 2:
        return NAN, NAN
    spread = np.array(ways)
    n = len(spread)
    variance = (n - 1) / n * ((spread - spread.mean(axis=0)) ** 2).sum(axis=0)
    return float(np.sqrt(variance[3:].sum())), float(np.degrees(np.sqrt(variance[:3].sum())))


def _agree(pair: Pair, pose: Floats) -> tuple[float, float]:
    """Broken surfaces alone against outer wall counted four times."""
    fits = [Fit.of(pair, pose, weights) for weights in (FACES, WALL)]
    if fits[0] is None or fits[1] is None:
        return NAN, NAN
    way = apart(fits[0].pose, fits[1].pose, pair.middle)
    return float(np.linalg.norm(way[3:])), float(np.degrees(np.linalg.norm(way[:3])))


def _slides(pair: Pair, fit: Fit) -> Slides:
    """Standard errors along and about the shaft, from the curvature of the misfit."""
    axis = _axis(pair, fit.pose)
    frame = np.vstack([axis, _across(axis)])
    both = np.zeros((6, 6))
    both[:3, :3] = both[3:, 3:] = frame
    normal = both @ fit.normal @ both.T / PATCH
    spread = max(fit.misfit, LEAST_MISFIT) * np.sqrt(
        np.diag(np.linalg.inv(normal + 1e-9 * np.eye(6)))
    )
    turns, shifts = np.degrees(spread[:3]), spread[3:]
    return Slides(
        along=float(shifts[0]), across=(float(shifts[1]), float(shifts[2])),
        turn=float(turns[0]), tilt=(float(turns[1]), float(turns[2])),
    )  # fmt: skip
