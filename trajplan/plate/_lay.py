"""Laying a plate on a bone: many starts, coarse to fine, bends that a bender can make."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points, as_vector, freeze, rows_of
from trajplan.bone import line_spans
from trajplan.errors import CaseError
from trajplan.plate._bed import gap_along
from trajplan.plate._fit import Free, Pose, fit, shape_of
from trajplan.plate._strip import Shape, Strip, make_strip, underside

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints
    from trajplan.implants import Plate
    from trajplan.plate._bed import Bed

__all__ = ["BEND_MOST", "Laid", "lay", "starts_round"]

#: Degrees in one bridge, where the plate's row names no limit: bending past it at any one site
#: must be avoided in reconstruction plates (Wheeless' Textbook of Orthopaedics, reconstruction
#: plates); that it holds for other plates, and for twist, is an assumption.
BEND_MOST = 15.0
#: Degrees that hands can make a bend to (assumption).
BENDER = 1.0
#: mm and points across of the coarse and of the fine strip.
COARSE, FINE = (8.0, 3), (3.0, 5)
#: Starts that are fitted finely.
BEST = 6
#: Steps of the coarse fit without bends, with them, of the fine one, and after rounding.
ROUNDS = (5, 6, 12, 8)
#: Degrees that a plate may roll off the direction that it started with, and mm that it may rise.
ROLL, LIFT = 40.0, 10.0
#: mm; a plate may cut no deeper into bone: rounding of a mesh, and what periosteum gives
#: (assumption). A plate that would is lifted off by the rest.
CUT_MOST = 0.1
#: Times that a plate is lifted: each brings it clear but for the turn of its frames.
LIFTS = 4
#: mm; from so far outside the bone is looked for.
OUTSIDE = 500.0


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """``m`` plates as they lie, the best first."""

    plate: Plate
    holes: int
    strip: Strip
    start: Ints  # (m,) row of the start that each came from
    shape: Shape
    flatwise: Floats  # (m, b) degrees, whole: bend of each bridge, plus: ends towards the bone
    twist: Floats  # (m, b) degrees, whole: plus is right-handed along the plate
    gap: Floats  # (m, k, w) mm down to the bone; negative: cuts into it; NaN: beside the bone
    cost: Floats  # (m,) mm², of the fit before bends were rounded

    def __len__(self) -> int:
        return len(self.start)

    @property
    def centres(self) -> Floats:
        """Middles of the holes on the underside, (m, h, 3) mm."""
        centres: Floats = self.shape.points[:, self.strip.hole]
        return centres

    @property
    def into_bone(self) -> Floats:
        """Axes of the holes, (m, h, 3) unit."""
        axes: Floats = -self.shape.frames[:, self.strip.hole, 2]
        return axes

    @property
    def line_gap(self) -> Floats:
        """Gap along the middle line, (m, k) mm."""
        gap: Floats = self.gap[:, :, len(self.strip.across) // 2]
        return gap

    @property
    def hole_gap(self) -> Floats:
        """Gap at the middle of each hole, (m, h) mm."""
        gap: Floats = self.line_gap[:, self.strip.hole]
        return gap

    @property
    def edge_gap(self) -> Floats:
        """Gap along the two edges, (m, k, 2) mm."""
        gap: Floats = self.gap[:, :, [0, -1]]
        return gap

    @property
    def depth(self) -> Floats:
        """Deepest cut into bone, (m,) mm."""
        deepest: Floats = np.fmax.reduce(-self.gap, axis=(1, 2), initial=0.0)
        return deepest

    @property
    def beside(self) -> Floats:
        """Share of the underside that has no bone below, (m,)."""
        share: Floats = np.isnan(self.gap).mean(axis=(1, 2))
        return share

    def share_within(self, limit: float) -> Floats:
        """Share of the underside that lies near the bone.

        Parameters
        ----------
        limit : float, mm
            Such as 1 or 2.

        Returns
        -------
        (m,) float array
            What stands beside the bone is not near it.
        """
        share: Floats = (self.gap <= limit).mean(axis=(1, 2))
        return share

    def bend_strain(self) -> Floats:
        """Strain of the plate's faces at each bend, (m, b): half thickness over bend radius."""
        strain: Floats = (
            np.radians(np.abs(self.flatwise)) * self.plate.thickness / (2.0 * self.strip.bridge)
        )
        return strain


def starts_round(
    bed: Bed,
    at: ArrayLike,
    along: ArrayLike,
    out: ArrayLike,
    *,
    cone: float = 45.0,
    step: float = 15.0,
    turns: ArrayLike = (0.0,),
) -> Pose:
    """Places where a plate could lie: round the bone, within a cone of directions.

    Parameters
    ----------
    bed : Bed
        The bone.
    at : array_like, (n, 3), mm
        Points in the bone beneath the plate's middle, such as the fracture's middle and others
        along the shaft.
    along : array_like, (3,)
        Direction of the plate, such as the shaft's axis.
    out : array_like, (3,)
        From the bone outwards, the side that the plate is to lie on.
    cone : float, degrees
        Greatest angle about `along` from `out`.
    step : float, degrees
        Between neighbouring sides.
    turns : array_like, (t,), degrees
        Turns of the plate about the direction out of the bone.

    Returns
    -------
    Pose
        Points on the bone's outer surface; sides that meet no bone are left out.

    Raises
    ------
    CaseError
        If `out` runs along the plate, or no side meets bone.
    """
    points, axis, side = as_points(at), as_directions(along)[0], as_vector(out)
    side = side - (side @ axis) * axis
    if not np.linalg.norm(side) > 1e-6 * np.linalg.norm(out):
        raise CaseError(
            "the side of the plate runs along the plate itself",
            remedy="give a direction out of the bone, across its shaft",
            where="plate, side",
        )
    side = side / np.linalg.norm(side)
    count = int(cone // step)
    angle = np.radians(step * np.arange(-count, count + 1))
    spread = np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * np.cross(axis, side)
    turn = np.radians(np.asarray(turns, dtype=np.float64))
    shape = (len(points), len(angle), len(turn), 3)
    where = np.broadcast_to(points[:, None, None], shape).reshape(-1, 3)
    normal = np.broadcast_to(spread[None, :, None], shape).reshape(-1, 3)
    across = np.cross(normal, axis)
    turned = np.tile(turn, len(points) * len(angle))[:, None]
    forward = np.cos(turned) * axis + np.sin(turned) * across
    origin = where + OUTSIDE * normal
    spans = line_spans(bed.bone, origin, -normal).outer
    depth = np.full(len(origin), np.inf)
    np.minimum.at(depth, rows_of(spans.offsets), spans.start)
    met = np.isfinite(depth)
    if not met.any():
        raise CaseError(
            "no bone lies where the plate is to lie",
            remedy="name a place inside the bone, in its frame and unit",
            where="plate",
        )
    frame = np.stack([forward, np.cross(normal, forward), normal], axis=1)
    return Pose((origin - np.where(met, depth, 0.0)[:, None] * normal)[met], frame[met])


def lay(
    bed: Bed,
    plate: Plate,
    holes: int,
    start: Pose,
    *,
    slide: float = 2.0,
    turn: float = 5.0,
    best: int = BEST,
    group: Ints | None = None,
    bends: Floats | None = None,
) -> Laid:
    """Lay a plate on a bone from many starts, and keep the best.

    Parameters
    ----------
    bed : Bed
        The bone's outer surface.
    plate : Plate
        The plate.
    holes : int
        Its number of holes, one that the tray holds.
    start : Pose
        ``n`` starts, as from `starts_round`.
    slide : float, mm
        How far the plate may leave its start along and across.
    turn : float, degrees
        How far it may turn about the direction out of the bone.
    best : int
        Plates that are laid finely.
    group : (n,) int array, optional
        Such as the side of the bone that each start lies on: the best of every group comes
        before the second best of any. By default all are one group.
    bends : (n, 2, holes - 1) float array, degrees, optional
        Bend and twist of each bridge that the fit begins with, signed as those of `Laid`; by
        default every plate begins straight.

    Returns
    -------
    Laid
        At most `best` plates, the best fit first. No plate cuts deeper into bone than
        `CUT_MOST`, but where the turn of its own frames hinders that `Laid.depth` tells.

    Raises
    ------
    CaseError
        If the tray holds no plate with so many holes.
    """
    if holes not in plate.holes:
        raise CaseError(
            f"{plate.kind} comes with {', '.join(map(str, plate.holes))} holes, not {holes}",
            remedy="name a number that the tray holds",
            where="plate, holes",
        )
    most = np.radians(BEND_MOST if plate.bend_most is None else plate.bend_most)
    free = Free(slide, LIFT, np.radians(turn), np.radians(ROLL), most, most)
    coarse, fine = (make_strip(plate, holes, *size) for size in (COARSE, FINE))
    bound = free.most(holes - 1)
    rigid = np.where(np.arange(len(bound)) < 6, bound, 0.0)
    x = np.zeros((len(start.point), len(bound)))
    if bends is not None:
        x[:, 6:] = np.clip(np.radians(bends.reshape(len(x), -1)), -bound[6:], bound[6:])
    x, _ = fit(bed, coarse, start, x, (x - rigid, x + rigid), rounds=ROUNDS[0])
    x, cost = fit(bed, coarse, start, x, (-bound, bound), rounds=ROUNDS[1])
    rows = _best(cost, np.zeros(len(cost), dtype=np.int64) if group is None else group)[:best]
    chosen = Pose(start.point[rows], start.frame[rows])
    x, cost = fit(bed, fine, chosen, x[rows], (-bound, bound), rounds=ROUNDS[2])
    x = _rounded(bed, fine, chosen, x, bound)
    shape, gap = _lifted(bed, fine, shape_of(fine, chosen, x))
    order = np.argsort(cost, kind="stable")
    bends = np.asarray(np.round(np.degrees(x[order, 6:])) + 0.0, dtype=np.float64)  # no -0
    laid = Laid(
        plate=plate,
        holes=holes,
        strip=fine,
        start=rows[order],
        shape=Shape(shape.points[order], shape.frames[order]),
        flatwise=bends[:, : holes - 1].copy(),
        twist=bends[:, holes - 1 :].copy(),
        gap=gap[order],
        cost=cost[order],
    )
    freeze(laid.start, laid.flatwise, laid.twist, laid.gap, laid.cost)
    return laid


def _best(cost: Floats, group: Ints) -> Ints:
    """Rows in order: the best of every group, then the second best of each."""
    order = np.lexsort((cost, group))
    first = np.searchsorted(group[order], group[order])
    rank = np.arange(len(order)) - first
    rows: Ints = order[np.lexsort((cost[order], rank))]
    return rows


def _rounded(bed: Bed, strip: Strip, start: Pose, x: Floats, bound: Floats) -> Floats:
    """Round every bend to what a bender can make, and lay the plate again as it then is.

    It is the sum of the bends from the plate's middle outwards that is rounded, so that what is
    lost in one bridge is made good in the next and neither end strays; a plate turned end for end
    is rounded alike.
    """
    step, bridges = np.radians(BENDER), len(strip.bridge)
    wanted = x[:, 6:].reshape(len(x), 2, bridges) / step
    whole, half = np.round(wanted), bridges // 2
    # what the middle bridge loses, where there is one, is shared by both sides
    rest = (wanted - whole)[:, :, half : half + 1] / 2.0 * (bridges % 2)
    for side in (slice(bridges - half, None), slice(half - 1, None, -1) if half else slice(0, 0)):
        sums = rest + np.cumsum(wanted[:, :, side], axis=2)
        whole[:, :, side] = np.diff(np.round(sums), axis=2, prepend=0.0)
    whole = whole.reshape(len(x), -1)
    most = np.floor(bound[6:] / step + 1e-9)
    still = np.concatenate([np.zeros((len(x), 6)), step * np.clip(whole, -most, most)], axis=1)
    room = np.where(np.arange(len(bound)) < 6, bound, 0.0)
    bounds = (still - room, still + room)
    return fit(bed, strip, start, np.clip(x, *bounds), bounds, rounds=ROUNDS[3])[0]


def _lifted(bed: Bed, strip: Strip, shape: Shape) -> tuple[Shape, Floats]:
    """Gap of the whole underside, after lifting each plate off what it would cut too deep."""
    out = shape.frames[:, :, None, 2]
    for _ in range(LIFTS):
        points = underside(strip, shape)
        gap = gap_along(bed, points, -np.broadcast_to(out, points.shape))
        over = np.fmax.reduce(-gap, axis=(1, 2), initial=0.0) - CUT_MOST
        if not (over > 0.0).any():
            break
        up = np.maximum(over, 0.0)[:, None] * shape.frames[:, strip.middle, 2]
        shape = Shape(shape.points + up[:, None], shape.frames)
    return shape, gap
