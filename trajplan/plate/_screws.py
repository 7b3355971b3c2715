"""Screws through the holes of a plate: seat in the hole, length, thread in bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import covered
from trajplan.errors import CaseError
from trajplan.fracture import beside_fracture, fracture_depth
from trajplan.geometry import segment_segment_distance
from trajplan.plate._holes import cone_share, tilts
from trajplan.trajectory import Axes, bundle, cast, dimensions, thread_hole, through_length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.fracture import Zone
    from trajplan.implants import Screw
    from trajplan.plate._lay import Laid
    from trajplan.trajectory import Corridors, Dimensions, Settings

__all__ = ["PlateScrews", "plate_screws"]

#: mm that a screw may pass beside the outline of the fracture, which is drawn as a polygon
#: (assumption, as for lag screws).
BESIDE = 2.0
#: mm by which the radii of a head and of the sphere that it sits in may differ (assumption).
SAME_BALL = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class PlateScrews:
    """``n`` screws of one plate; depths in mm from the entry into bone, NaN where they miss."""

    dims: Dimensions
    hole: Ints  # (n,) from 0
    corridors: Corridors
    tilt_along: Floats  # (n,) degrees in the hole
    tilt_across: Floats  # (n,)
    cone: Floats  # (n,) tilt as a share of what the hole allows; NaN: not known
    seat: Floats  # (n,) mm, lowest point of the head's sphere in its hole; negative: above bone
    gauge: Floats  # (n,) mm from the seat, through plate, gap and bone, to the far wall's deepest
    length: Floats  # (n,) mm, stocked
    tip: Floats  # (n,) mm, depth
    bite: Floats  # (n,) mm of thread in bone, mean of the ring
    crosses: Bools  # (n,) the screw's cylinder crosses the fracture
    stands_out: Floats  # (n,) mm of the head over the bone, straight up from the hole's middle

    @property
    def proud(self) -> Floats:
        """How far the tip stands out past what the gauge reads, (n,) mm."""
        return self.tip - self.seat - self.gauge

    def apart(self, start: ArrayLike, end: ArrayLike, radius: ArrayLike) -> Floats:
        """Clearance from other screws.

        Parameters
        ----------
        start, end : (m, 3) array_like, mm
            Seat and tip of the others.
        radius : (m,) array_like, mm
            Of their threads.

        Returns
        -------
        (n, m) float array, mm
            Between the threads; negative: they meet.
        """
        mine = self.corridors.axes.at(self.seat), self.corridors.axes.at(self.tip)
        others = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
        n, m = len(self.hole), len(others[0])
        pairs = (np.repeat(p, m, axis=0) for p in mine), (np.tile(q, (n, 1)) for q in others)
        distance = segment_segment_distance(*pairs[0], *pairs[1]).reshape(n, m)
        clear: Floats = distance - self.dims.thread[:, None] / 2.0 - np.asarray(radius)
        return clear


def plate_screws(
    bone: Bone,
    laid: Laid,
    row: int,
    screws: Sequence[Screw],
    hole: Ints,
    direction: Vec3s,
    settings: Settings,
    zones: Sequence[Zone] = (),
    offset: Floats | None = None,
) -> PlateScrews:
    """Work out screws through holes of a plate, each through both walls of the bone.

    Parameters
    ----------
    bone : Bone
        The bone.
    laid : Laid
        Plates.
    row : int
        The plate.
    screws : sequence of Screw, length n
        The screw in each hole.
    hole : (n,) int array
        Its hole, from 0; no hole twice.
    direction : (n, 3) float array
        From head to tip, as from `tilted`.
    settings : Settings
        Lines on a ring, and how far a tip is to stand out.
    zones : sequence of Zone
        The fracture.
    offset : (n,) float array, mm, optional
        Along the plate from the middle of each hole to where it is drilled, as from
        `drill_offsets`; by default the middle.

    Returns
    -------
    PlateScrews

    Raises
    ------
    CaseError
        If a hole does not take its screw, does not exist, or is named twice.

    Notes
    -----
    The head's sphere turns in its hole about its own middle, so a tilted screw still runs
    through that point, and its seat is the sphere's lowest point along the axis.
    """
    _check(laid, screws, hole)
    kinds = {screw.kind: screw for screw in screws}
    rows = [[*kinds].index(screw.kind) for screw in screws]
    dims = dimensions([*kinds.values()], np.array(rows, dtype=np.int64))
    aside = np.zeros(len(hole)) if offset is None else offset
    axes, ball = _axes(laid, row, dims, hole, direction, aside)
    corridors = cast(bone, axes, dims.thread / 2.0, ring=settings.ring, zones=zones)
    to_ball = np.einsum("ni,ni->n", ball - corridors.axes.origin, corridors.axes.direction)
    seat = np.where(corridors.hit, to_ball + dims.head_radius, np.nan)
    gauge = corridors.exit_within(thread_hole(dims) / 2.0) - seat
    length = through_length(dims, gauge, settings)
    tip = seat + length - dims.above_seat
    along, across = tilts(laid, row, hole, direction)
    nodes = laid.strip.hole[hole]
    gap = laid.line_gap[row, nodes]
    rise = np.einsum("ni,ni->n", ball - laid.shape.points[row, nodes],
                     laid.shape.frames[row, nodes, 2])  # fmt: skip
    top = np.maximum(rise - dims.head_radius + dims.head_height, laid.plate.thickness)
    return PlateScrews(
        dims=dims,
        hole=hole,
        corridors=corridors,
        tilt_along=along,
        tilt_across=across,
        cone=cone_share(laid.plate.hole, along, across),
        seat=seat,
        gauge=gauge,
        length=length,
        tip=tip,
        bite=_bite(corridors, tip),
        crosses=_crosses(corridors, zones, tip),
        stands_out=gap + top,
    )


def _check(laid: Laid, screws: Sequence[Screw], hole: Ints) -> None:
    plate = laid.plate
    for screw, number in zip(screws, hole, strict=True):
        if not 0 <= number < laid.holes:
            raise CaseError(
                f"hole {number + 1} is none of the {laid.holes} of this plate",
                remedy="count the holes from 1, from the plate's first end",
                where="plate, hole",
            )
        if screw.thread_diameter not in plate.hole.thread:
            taken = " or ".join(f"{d:g}" for d in plate.hole.thread)
            raise CaseError(
                f"{plate.kind} takes screws of {taken} mm, and {screw.kind} is none",
                remedy="name a screw that the holes take, or another plate",
                where="plate, screws",
            )
        ball = plate.hole.seat
        if ball is not None and abs(ball - screw.head_radius) > SAME_BALL:
            raise CaseError(
                f"the head of {screw.kind}, of radius {screw.head_radius:g} mm, does not sit in "
                f"the holes of {plate.kind}, of radius {ball:g}",
                remedy="name a screw that the holes take, or another plate",
                where="plate, screws",
            )
    if len(np.unique(hole)) < len(hole):
        raise CaseError(
            "a hole of the plate is to take two screws",
            remedy="name each hole once",
            where="plate, hole",
        )


def _axes(
    laid: Laid, row: int, dims: Dimensions, hole: Ints, direction: Vec3s, aside: Floats
) -> tuple[Axes, Vec3s]:
    """Axes through the middle of each head's sphere, and those middles."""
    height = np.array([
        laid.plate.seat_height(screw.head_radius, screw.thread_diameter) for screw in dims.kinds
    ])[dims.kind]  # fmt: skip
    nodes = laid.strip.hole[hole]
    frame = laid.shape.frames[row, nodes]
    ball = (
        laid.shape.points[row, nodes] + height[:, None] * frame[:, 2] + aside[:, None] * frame[:, 0]
    )
    return Axes.along(ball, direction), ball


def _bite(corridors: Corridors, tip: Floats) -> Floats:
    """Thread in bone known to be there, mean of the ring."""
    shape = corridors.line_entry.shape
    low = np.nan_to_num(corridors.line_entry, nan=0.0)
    high = np.fmin(corridors.line_exit, tip[:, None])
    whole = covered(corridors.solid, low.ravel(), np.nan_to_num(high, nan=0.0).ravel())
    bite = whole.reshape(shape)[:, 1:].mean(axis=1)
    return np.where(corridors.hit & np.isfinite(tip), bite, np.nan)


def _crosses(corridors: Corridors, zones: Sequence[Zone], tip: Floats) -> Bools:
    """Whether any line of each screw crosses the fracture between its entry and its tip."""
    n, lines = corridors.line_entry.shape
    origin, direction = bundle(
        corridors.axes, corridors.radius[:, None], corridors.ring, with_axis=True
    )
    found = np.zeros(n * lines, dtype=np.bool_)
    end = np.fmin(corridors.line_exit, tip[:, None]).ravel()
    for zone in zones:
        depth, _ = fracture_depth(zone, origin, direction)
        within = np.flatnonzero((depth > corridors.line_entry.ravel()) & (depth < end))
        points = origin[within] + depth[within, None] * direction[within]
        found[within] |= beside_fracture([zone], points) <= BESIDE
    crossed: Bools = np.logical_or.reduce(found.reshape(n, lines), axis=1)
    return crossed
