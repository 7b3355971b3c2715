"""The search: many starts at once, each drawn to the nearest fit by a trimmed matching of points.

Starts: how the pieces lie turned every way within the limit; shaft on shaft, turned about the
axis; the shapes of the two breaks on each other; hints. Ready-made descriptors of points fail on
broken surfaces (measured: 11 and more of 18 wrong), and so they are not used.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from trajplan.reduction._fine import rigid
from trajplan.reduction._near import nearest
from trajplan.reduction._pair import NORMAL

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3, Vec3s
    from trajplan.reduction._pair import Pair
    from trajplan.reduction._samples import Samples

__all__ = [
    "Cloud",
    "Starts",
    "by_shaft",
    "by_shape",
    "drawn",
    "joined_starts",
    "slid_along",
    "turned",
]

#: degrees between neighbouring turns of the grid: a matching is drawn in from about as far.
GRID = 16.0
#: degrees between starts about the shaft's axis, and how far they go round.
ROUND, ROUND_MOST = 12.0, 60.0
#: Samples of the moving and of the standing break that the search uses.
FEW, MANY = 220, 900
#: Rounds of matching.
ROUNDS = 14
#: Starts matched at once: bounds memory to some 50 MB.
BLOCK = 200
#: mm: how far partners may be in the first and in the last round.
REACH = (15.0, 3.0)
#: Share of two ends' breaks that meets beside a wedge (as simulated: 0.17 and more), and beside a
#: chip.
MEET = (0.12, 0.4)
#: mm: a sample with a partner so near is matched.
MATCHED = 2.5
#: Weight of point to point against point to plane: it keeps sliding in bounds.
PULL = 0.02
#: Share of each freedom's own stiffness that damps its step.
DAMPED = 1e-3
#: Seed of every draw: the same fragments give the same answer.
SEED = 7


@dataclass(frozen=True, slots=True, eq=False)
class Starts:
    """Where to begin."""

    rotations: Floats  # (s, 3, 3)
    shifts: Vec3s  # (s, 3) mm
    keep: float  # share of the samples that must find a partner


def joined_starts(rotations: Floats, goals: Vec3s, source: Vec3, keep: float) -> Starts:
    """Every turn, with a point of the moving piece laid on every goal."""
    turns = np.repeat(rotations, len(goals), axis=0)
    shifts = np.tile(goals, (len(rotations), 1)) - turns @ source
    return Starts(turns, shifts, keep)


@cache
def turned(most: float, step: float = GRID) -> Floats:
    """Turns spread evenly within a limit, none among them, (k, 3, 3)."""
    drawn_ = Rotation.random(6000, random_state=SEED)
    drawn_ = drawn_[drawn_.magnitude() < np.radians(most)]
    kept = np.eye(3)[None]
    least = 1.0 + 2.0 * np.cos(np.radians(0.8 * step))
    for turn in drawn_.as_matrix():
        if np.einsum("kij,ij->k", kept, turn).max() < least:
            kept = np.concatenate([kept, turn[None]])
    kept.setflags(write=False)
    return kept


def by_shaft(standing: Samples, moving: Samples) -> Floats:
    """Turns that lay one shaft on the line of the other, broken end to broken end."""
    if standing.shaft is None or moving.shaft is None:
        return np.zeros((0, 3, 3))
    goal, axis = -standing.shaft.axis, moving.shaft.axis
    cross = np.cross(axis, goal)
    sine = float(np.linalg.norm(cross))
    angle = np.arctan2(sine, float(axis @ goal))
    least = Rotation.from_rotvec(cross / max(sine, 1e-9) * angle)
    about = np.radians(np.arange(-ROUND_MOST, ROUND_MOST + 1.0, ROUND))
    turns: Floats = (Rotation.from_rotvec(about[:, None] * goal) * least).as_matrix()
    return turns


def by_shape(standing: Samples, moving: Samples) -> Floats:
    """Turns that lay the long axis of one break on that of the other, both ways round."""
    frames = [_break_frame(side) for side in (standing, moving)]
    flip = np.diag([1.0, -1.0, -1.0])
    ways = np.stack([np.diag([sign, sign, 1.0]) for sign in (1.0, -1.0)])
    turns: Floats = frames[0] @ flip @ ways @ frames[1].T
    return turns


def _break_frame(samples: Samples) -> Floats:
    rows = samples.broken
    points, areas = samples.points[rows], samples.areas[rows]
    apart = points - samples.break_middle
    axes = np.linalg.eigh((apart.T * areas) @ apart)[1]
    out = axes[:, 0] * np.copysign(1.0, axes[:, 0] @ (areas @ samples.normals[rows]))
    return np.column_stack([axes[:, 2], np.cross(out, axes[:, 2]), out])


def slid_along(pair: Pair, steps: int = 7) -> list[Starts]:
    """Shaft on shaft, from just touching to pushed in by the length of the break.

    Where a piece is missing between them, the middles of the two breaks do not belong together,
    and a small part of them only meets.
    """
    a, b = pair.standing.shaft, pair.moving.shaft
    if a is None or b is None:
        return []
    turns = by_shaft(pair.standing, pair.moving)
    high = (pair.standing.points[pair.breaks[0]] - a.middle) @ a.axis
    back = pair.moving.points[pair.breaks[1]] - b.middle
    low = np.einsum("sij,mj->smi", turns, back) @ a.axis
    touch = np.quantile(high, 0.98) - np.quantile(low, 0.02, axis=1)
    push = np.linspace(0.0, 0.95, steps) * max(np.ptp(high), np.ptp(low[0]))
    many = np.repeat(turns, steps, axis=0)
    height = np.repeat(touch, steps) - np.tile(push, len(turns))
    shifts = a.middle + height[:, None] * a.axis - many @ b.middle
    return [Starts(many, shifts, keep) for keep in MEET]


def drawn(pair: Pair, groups: list[Starts], few: int = FEW) -> tuple[list[Floats], Floats]:
    """Draw all starts to the nearest fit.

    Parameters
    ----------
    pair : Pair
        Standing and moving fragment.
    groups : list of Starts
        Where to begin.
    few : int
        Samples of the moving break that are matched.

    Returns
    -------
    poses : list of (4, 4) float arrays
    matched : (s,) float array
        Share of the samples that found a partner.
    """
    a, b = pair.standing, pair.moving
    rows_a, rows_b = _thinned(a, pair.breaks[0], MANY), _thinned(b, pair.breaks[1], few)
    cloud = Cloud(a.points[rows_a], a.normals[rows_a], b.points[rows_b], b.normals[rows_b])
    poses, shares = [], []
    for group in groups:
        for first in range(0, len(group.rotations), BLOCK):
            block = slice(first, first + BLOCK)
            turns, shifts = cloud.match(group.rotations[block], group.shifts[block], group.keep)
            shares.append(cloud.share(turns, shifts))
            poses += [rigid(turn, shift) for turn, shift in zip(turns, shifts, strict=True)]
    return poses, np.concatenate([np.zeros(0), *shares])


def _thinned(samples: Samples, rows: Ints, most: int) -> Ints:
    if len(rows) <= most:
        return rows
    share = samples.areas[rows] / samples.areas[rows].sum()
    return np.random.default_rng(SEED).choice(rows, most, replace=False, p=share)


class Cloud:
    """Samples of two breaks, for many poses at once."""

    def __init__(
        self, points_a: Vec3s, normals_a: Vec3s, points_b: Vec3s, normals_b: Vec3s
    ) -> None:
        self.points_a, self.normals_a = points_a, normals_a
        self.points_b, self.normals_b = points_b, normals_b
        self.tree = cKDTree(np.hstack([points_a, -NORMAL * normals_a]))
        self.about = points_a.mean(axis=0)

    def partners(self, turns: Floats, shifts: Vec3s, within: float) -> tuple[Floats, Floats, Ints]:
        """Moved samples (s, m, 3), distance to the partner and its row (s, m).

        Without a partner within so much the distance is infinite; a bounded search is several
        times as fast.
        """
        x = np.einsum("sij,mj->smi", turns, self.points_b) + shifts[:, None]
        n = np.einsum("sij,mj->smi", turns, self.normals_b)
        place = np.concatenate([x, NORMAL * n], axis=-1)
        distance, row = nearest(self.tree, place.reshape(-1, 6), within)
        row = np.minimum(row, len(self.points_a) - 1)
        return x, distance.reshape(x.shape[:2]), row.reshape(x.shape[:2])

    def share(self, turns: Floats, shifts: Vec3s) -> Floats:
        """Share of the samples that are matched, (s,)."""
        matched: Floats = np.isfinite(self.partners(turns, shifts, MATCHED)[1]).mean(axis=1)
        return matched

    def normal_of(self, turn: Floats, shift: Vec3) -> Floats:
        """Normal matrix of one pose, turn (rad) about the samples' middle, then shift, (6, 6)."""
        x, distance, row = self.partners(turn[None], shift[None], REACH[1])
        near = np.isfinite(distance[0])
        x, n = x[0][near], self.normals_a[row[0][near]]
        lever = np.hstack([np.cross(x - x.mean(axis=0), n), n])
        matrix: Floats = lever.T @ lever
        return matrix

    def match(
        self, turns: Floats, shifts: Vec3s, keep: float, pull: float = PULL
    ) -> tuple[Floats, Vec3s]:
        """Trimmed point-to-plane matching of many starts."""
        for number in range(ROUNDS):
            reach = REACH[0] * (REACH[1] / REACH[0]) ** (number / (ROUNDS - 1))
            x, distance, row = self.partners(turns, shifts, reach)
            y, n = self.points_a[row], self.normals_a[row]
            trim = np.maximum(_quantile(distance, keep)[:, None], 1.0)
            weight = (np.isfinite(distance) & (distance <= trim)).astype(np.float64)
            height = np.einsum("smi,smi->sm", x - y, n)
            lever = np.concatenate([np.cross(x - self.about, n), n], axis=-1)
            weighted = lever * weight[..., None]
            normal = np.swapaxes(weighted, 1, 2) @ lever
            slope = np.einsum("smi,sm->si", weighted, height)
            normal[:, 3:, 3:] += pull * weight.sum(axis=1)[:, None, None] * np.eye(3)
            slope[:, 3:] += pull * np.einsum("sm,smi->si", weight, x - y)
            own = np.einsum("sii->si", normal)
            normal += (DAMPED * own + 1e-9)[:, None] * np.eye(6)
            step = -np.linalg.solve(normal, slope[..., None])[..., 0]
            angle = np.linalg.norm(step[:, :3], axis=1)
            step *= np.minimum(1.0, 0.35 / np.maximum(angle, 1e-9))[:, None]
            turn = Rotation.from_rotvec(step[:, :3]).as_matrix()
            turns = turn @ turns
            shifts = np.einsum("sij,sj->si", turn, shifts - self.about) + self.about + step[:, 3:]
        return turns, shifts


def _quantile(distance: Floats, share: float) -> Floats:
    """Quantile of each row, infinite where too few have a partner."""
    place = min(int(share * distance.shape[1]), distance.shape[1] - 1)
    cut: Floats = np.partition(distance, place, axis=1)[:, place]
    return cut
