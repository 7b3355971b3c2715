"""Fitting bent strips to a bone: many at once, by damped least squares on closest points.

What is made small, for every station along the plate: the gap of the first point that
touches on either side of its middle line (a plate rests on what it meets first), a hundred
times more where it cuts into bone; a little of every gap, so that the plate lies square over
a round bone; and a little of every bend, so that none is made for nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.plate._bed import signed_gap
from trajplan.plate._motion import motions, slopes
from trajplan.plate._strip import Shape, Strip, bent, rotations, underside

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.plate._bed import Bed

__all__ = ["Free", "Pose", "fit", "shape_of"]

#: Weight of a cut into bone against a gap; squared in the sum: a hundred times.
CUT = 10.0
#: Weight of every gap against that of the first touch.
SQUARE = 0.1
#: mm for each radian of a bend or twist: 15 degrees count as a gap of 0.13 mm.
IDLE = 0.5
#: mm for each radian by which the twists of neighbouring bridges differ, for their lengths. Without
#: it a plate on a coarse mesh follows single facets and would be twisted to and fro from hole to
#: hole, which no hand does.
UNEVEN = 2.0
#: Relative damping of the first step, its change after a step that helped or did not, its bounds.
DAMPING, EASE, HARDEN = 1e-3, 0.2, 5.0
#: Multiplications below which the library starts no threads (OpenBLAS: 262,144, measured).
SMALL = 150_000


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Where ``m`` plates start: middle of the underside, and rows along, across, out."""

    point: Floats  # (m, 3) mm
    frame: Floats  # (m, 3, 3)


@dataclass(frozen=True, slots=True)
class Free:
    """How far a fit may leave its start; mm and radians."""

    slide: float  # along the plate, and as far across
    lift: float
    turn: float  # about the direction out of the bone
    roll: float  # about the two others
    flatwise: float  # of each bridge
    twist: float

    def most(self, bridges: int) -> Floats:
        """Greatest size of each of the numbers that tell a shape from its start.

        Parameters
        ----------
        bridges : int
            Gaps between holes.

        Returns
        -------
        (6 + 2 * bridges,) float array
        """
        rigid = [self.slide, self.slide, self.lift, self.roll, self.roll, self.turn]
        return np.array([*rigid, *[self.flatwise] * bridges, *[self.twist] * bridges])


def shape_of(strip: Strip, start: Pose, x: Floats) -> Shape:
    """Shapes by the numbers that tell them from their starts.

    Parameters
    ----------
    strip : Strip
        The plate.
    start : Pose
        ``m`` starts.
    x : (m, 6 + 2 b) float array
        Shift along, across and out in mm; turn about the same in radians; flatwise bend of
        each bridge; twist of each.

    Returns
    -------
    Shape
    """
    bridges = len(strip.bridge)
    point = start.point + np.einsum("mi,mij->mj", x[:, :3], start.frame)
    frame = rotations(x[:, 3:6]).transpose(0, 2, 1) @ start.frame
    return bent(strip, point, frame, x[:, 6 : 6 + bridges], x[:, 6 + bridges :])


def fit(
    bed: Bed, strip: Strip, start: Pose, x: Floats, bounds: tuple[Floats, Floats], *, rounds: int
) -> tuple[Floats, Floats]:
    """Lay plates on a bone.

    Parameters
    ----------
    bed : Bed
        The bone's outer surface.
    strip : Strip
        The plate.
    start : Pose
        ``m`` starts.
    x : (m, 6 + 2 b) float array
        Numbers to begin with, see `shape_of`.
    bounds : tuple of two (p,) or (m, p) float arrays
        Least and greatest value of each; where they are equal it stays.
    rounds : int
        Steps of damped least squares.

    Returns
    -------
    x : (m, 6 + 2 b) float array
    cost : (m,) float array, mm²
        Mean over the stations of what is made small.
    """
    x = np.clip(x, *bounds)
    damping = np.full(len(x), DAMPING)
    rigid = not (bounds[1] > bounds[0])[..., 6:].any()
    residual, jacobian = _residuals(bed, strip, start, x, rigid=rigid)
    cost = (residual**2).sum(axis=1)
    for _ in range(rounds):
        trial = _step(x, bounds, residual, jacobian, damping)
        new_residual, new_jacobian = _residuals(bed, strip, start, trial, rigid=rigid)
        new_cost = (new_residual**2).sum(axis=1)
        better = new_cost < cost
        x = np.where(better[:, None], trial, x)
        residual = np.where(better[:, None], new_residual, residual)
        jacobian = np.where(better[:, None, None], new_jacobian, jacobian)
        cost = np.where(better, new_cost, cost)
        damping = np.clip(damping * np.where(better, EASE, HARDEN), 1e-9, 1e6)
    return x, cost / len(strip.nodes)


def _step(
    x: Floats,
    bounds: tuple[Floats, Floats],
    residual: Floats,
    jacobian: Floats,
    damping: Floats,
) -> Floats:
    """One damped step within the bounds; what its bound holds back stays there."""
    downhill = -np.einsum("mrp,mr->mp", jacobian, residual)
    square = _square(jacobian)
    held: Bools = ((x >= bounds[1]) & (downhill > 0.0)) | ((x <= bounds[0]) & (downhill < 0.0))
    free = (~held).astype(np.float64)
    square = square * free[:, :, None] * free[:, None, :]
    size = np.einsum("mpp->mp", square)
    ridge = damping[:, None] * np.maximum(size, 1e-6) + held
    square = square + ridge[:, :, None] * np.eye(x.shape[1])
    step = np.linalg.solve(square, (downhill * free)[:, :, None])[:, :, 0]
    return np.clip(x + step, *bounds)


def _square(jacobian: Floats) -> Floats:
    """The product of every Jacobian's transpose with itself, (m, p, p), in pieces.

    A whole one is large enough for the library to start threads, for a millisecond's work; where
    others use the machine they wait for one another, and a step took seconds.
    """
    m, r, p = jacobian.shape
    rows = max(1, SMALL // p**2)
    square = np.zeros((m, p, p))
    for first in range(0, r, rows):
        part = jacobian[:, first : first + rows]
        square += part.transpose(0, 2, 1) @ part
    return square


def _residuals(
    bed: Bed, strip: Strip, start: Pose, x: Floats, *, rigid: bool = False
) -> tuple[Floats, Floats]:
    """What is made small, (m, r), and its derivatives, (m, r, p)."""
    m, p = x.shape
    shape = shape_of(strip, start, x)
    points = underside(strip, shape)
    gap, gradient = signed_gap(bed, points)  # (m, k, w)
    slope = slopes(*motions(strip, start.frame, shape, x, rigid=rigid), points, gradient)
    half = len(strip.across) // 2
    rows, changes = [SQUARE * gap.reshape(m, -1)], [SQUARE * slope.reshape(m, -1, p)]
    for side in (slice(0, half + 1), slice(half, None)):
        first = gap[:, :, side].argmin(axis=2)[:, :, None]
        touch = np.take_along_axis(gap[:, :, side], first, axis=2)[:, :, 0]
        weight = np.where(touch < 0.0, CUT, 1.0)
        rows.append(weight * touch)
        turned = np.take_along_axis(slope[:, :, side], first[..., None], axis=2)[:, :, 0]
        changes.append(weight[:, :, None] * turned)
    bends = np.zeros((p - 6, p))
    bends[:, 6:] = IDLE * np.eye(p - 6)
    rows.append(IDLE * x[:, 6:])
    changes.append(np.broadcast_to(bends, (m, p - 6, p)))
    uneven = _uneven(strip.bridge, p)
    rows.append(x @ uneven.T)
    changes.append(np.broadcast_to(uneven, (m, *uneven.shape)))
    return np.concatenate(rows, axis=1), np.concatenate(changes, axis=1)


def _uneven(bridge: Floats, p: int) -> Floats:
    """What takes the numbers of a shape to the weighted changes of its twist, (b - 1, p)."""
    b = len(bridge)
    change = np.diff(np.eye(b) / bridge, axis=0) * bridge.mean()
    weighted = np.zeros((b - 1, p))
    weighted[:, 6 + b :] = UNEVEN * change
    return weighted
