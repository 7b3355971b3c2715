"""Screws through the holes of a plate: seat in the hole, length, thread in bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import taken
from trajplan.errors import CaseError
from trajplan.fracture import beside_fracture, fracture_depth
from trajplan.plate._holes import cone_share, tilts
from trajplan.trajectory import Axes, Technique, bundle, dimensions, plan_trajectories

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.fracture import Zone
    from trajplan.implants import Plate, Screw
    from trajplan.plate._lay import Laid
    from trajplan.trajectory import Corridors, Dimensions, Joint, Settings, Trajectories

__all__ = ["PlateScrews", "check_screw", "head_balls", "plate_screws"]

#: mm that a screw may pass beside the outline of the fracture, which is drawn as a polygon
#: (assumption, as for lag screws).
BESIDE = 2.0
#: mm by which the radii of a head and of the sphere that it sits in may differ (assumption).
SAME_BALL = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class PlateScrews:
    """``n`` screws of plates; depths in mm from the entry into bone, NaN where they miss.

    A screw of a plate closes no fracture: in `screws` all the bone on its way counts as beyond
    the fracture, and its seat is the lowest point of its head's sphere in the hole.
    """

    screws: Trajectories
    hole: Ints  # (n,) from 0
    tilt_along: Floats  # (n,) degrees in the hole
    tilt_across: Floats  # (n,)
    cone: Floats  # (n,) tilt as a share of what the hole allows; NaN: not known
    crosses: Bools  # (n,) the screw's cylinder crosses the fracture
    stands_out: Floats  # (n,) mm of the head over the bone, straight up from the hole's middle

    def __len__(self) -> int:
        return len(self.hole)

    def take(self, rows: Ints) -> PlateScrews:
        """Some of the screws.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take, in any order.

        Returns
        -------
        PlateScrews
        """
        return taken(self, rows)

    @property
    def dims(self) -> Dimensions:
        """Sizes of the screws."""
        return self.screws.dims

    @property
    def corridors(self) -> Corridors:
        """Where they run through bone."""
        return self.screws.corridors

    @property
    def seat(self) -> Floats:
        """Lowest point of each head's sphere in its hole, (n,) mm; negative: above the bone."""
        return self.screws.seats.seat

    @property
    def gauge(self) -> Floats:
        """From the seat, through plate, gap and bone, to the far wall's deepest, (n,) mm."""
        return self.screws.gauge

    @property
    def length(self) -> Floats:
        """Stocked length, (n,) mm."""
        return self.screws.length

    @property
    def tip(self) -> Floats:
        """Depth of the tip, (n,) mm."""
        return self.screws.tip

    @property
    def bite(self) -> Floats:
        """Thread in bone, mean of the ring, (n,) mm."""
        return self.screws.purchase

    @property
    def proud(self) -> Floats:
        """How far the tip stands out past what the gauge reads, (n,) mm."""
        return self.screws.proud


def plate_screws(
    bone: Bone,
    laid: Laid,
    row: int | Ints,
    screws: Sequence[Screw],
    hole: Ints,
    direction: Vec3s,
    settings: Settings,
    zones: Sequence[Zone] = (),
    offset: Floats | None = None,
    joints: Sequence[Joint] = (),
    bicortical: Bools | None = None,
) -> PlateScrews:
    """Work out screws through holes of plates.

    Parameters
    ----------
    bone : Bone
        The bone.
    laid : Laid
        Plates.
    row : int or (n,) int array
        The plate of each screw.
    screws : sequence of Screw, length n
        The screw in each hole.
    hole : (n,) int array
        Its hole, from 0. Several rows may be choices for one hole.
    direction : (n, 3) float array
        From head to tip, as from `tilted`.
    settings : Settings
        Lines on a ring, and how far a tip is to stand out.
    zones : sequence of Zone
        The fracture.
    offset : (n,) float array, mm, optional
        Along the plate from the middle of each hole to where it is drilled, as from
        `drill_offsets`; by default the middle.
    joints : sequence of Joint, optional
        Joint surfaces: a screw that ends in bone and runs towards one keeps clear of it.
    bicortical : (n,) bool array, optional
        Whether each is to hold in the far wall; by default all are.

    Returns
    -------
    PlateScrews

    Raises
    ------
    CaseError
        If a hole does not take its screw, or does not exist.

    Notes
    -----
    The head's sphere turns in its hole about its own middle, so a tilted screw still runs
    through that point, and its seat is the sphere's lowest point along the axis.
    """
    _check(laid, screws, hole)
    kinds = {screw.kind: screw for screw in screws}
    names = [*kinds]
    dims = dimensions(
        [*kinds.values()], np.array([names.index(s.kind) for s in screws], dtype=np.int64)
    )
    aside = np.zeros(len(hole)) if offset is None else offset
    ball = head_balls(laid, row, dims, hole, aside)
    n = len(hole)
    found = plan_trajectories(
        bone,
        Axes.along(ball, direction),
        dims,
        zones,
        zone=None,
        technique=np.full(n, int(Technique.POSITION)),
        bicortical=np.ones(n, dtype=np.bool_) if bicortical is None else bicortical,
        settings=settings,
        joints=joints,
        ball=ball,
    )
    along, across = tilts(laid, row, hole, direction)
    nodes = laid.strip.hole[hole]
    rise = np.einsum("ni,ni->n", ball - laid.shape.points[row, nodes],
                     laid.shape.frames[row, nodes, 2])  # fmt: skip
    top = np.maximum(rise - dims.head_radius + dims.head_height, laid.plate.thickness)
    return PlateScrews(
        screws=found,
        hole=hole,
        tilt_along=along,
        tilt_across=across,
        cone=cone_share(laid.plate.hole, along, across),
        crosses=_crosses(found.corridors, zones, found.tip),
        stands_out=laid.line_gap[row, nodes] + top,
    )


def _check(laid: Laid, screws: Sequence[Screw], hole: Ints) -> None:
    outside = hole[(hole < 0) | (hole >= laid.holes)]
    if len(outside):
        raise CaseError(
            f"hole {outside[0] + 1} is none of the {laid.holes} of this plate",
            remedy="count the holes from 1, from the plate's first end",
            where="plate, hole",
        )
    for screw in {screw.kind: screw for screw in screws}.values():
        check_screw(laid.plate, screw)


def check_screw(plate: Plate, screw: Screw) -> None:
    """Refuse a screw that the holes of a plate do not take.

    Parameters
    ----------
    plate : Plate
        The plate.
    screw : Screw
        The screw.

    Raises
    ------
    CaseError
        If its thread or its head does not fit.
    """
    if screw.thread_diameter not in plate.hole.thread:
        taken_ = " or ".join(f"{d:g}" for d in plate.hole.thread)
        raise CaseError(
            f"{plate.kind} takes screws of {taken_} mm, and {screw.kind} is none",
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


def head_balls(laid: Laid, row: int | Ints, dims: Dimensions, hole: Ints, aside: Floats) -> Vec3s:
    """Middles of the spheres of heads in the holes of plates.

    Parameters
    ----------
    laid, row, hole
        As for `plate_screws`.
    dims : Dimensions
        The screws.
    aside : (n,) float array, mm
        Along the plate from the middle of each hole.

    Returns
    -------
    (n, 3) float array, mm
    """
    height = np.array([
        laid.plate.seat_height(screw.head_radius, screw.thread_diameter) for screw in dims.kinds
    ])[dims.kind]  # fmt: skip
    nodes = laid.strip.hole[hole]
    frame = laid.shape.frames[row, nodes]
    ball: Vec3s = (
        laid.shape.points[row, nodes] + height[:, None] * frame[:, 2] + aside[:, None] * frame[:, 0]
    )
    return ball


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
