"""What the fracture floor speaks in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.bone import Caster, Surface
    from trajplan.fracture._local import Pieces
    from trajplan.geometry import Plane

__all__ = ["Flatness", "Fracture", "Offset", "Overlap", "PairReport", "PlaneFit", "Turn", "Zone"]

Flatness: TypeAlias = Literal["flat", "uneven", "curved"]


@dataclass(frozen=True, slots=True, eq=False)
class PlaneFit:
    """A plane fitted to points or triangles, and how far it can be trusted."""

    plane: Plane
    rms: float  # mm, weighted root mean square of the heights of the inliers
    largest: float  # mm, largest height of an inlier
    normal_bound: float  # degrees, 95 % bound on the angle to the true normal; NaN: exact plane
    used: int  # points or triangles that counted
    left_out: int  # taken for outliers
    extents: Floats  # (2,) mm, along the long and the short axis in the plane
    flatness: Flatness


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A planar part of a fracture: where a screw may cross it, and its normal."""

    id: str  # "Z1"
    fit: PlaneFit
    region: MultiPolygon  # in the frame of `fit.plane` (see `geometry.to_plane`), mm
    area: float  # mm² of fracture surface, canal cut out
    patch: Surface | None  # its part of the fracture surface where one was given
    caster: Caster | None = None  # for crossings with the whole fracture surface
    rim: tuple[Vec3s, ...] = ()  # (k, 3) mm each, fracture line of the whole surface, see `outline`
    fragments: tuple[int, int] | None = None  # bodies that it parts; its normal runs either way
    pieces: Pieces | None = None  # of the whole fracture surface, for the normal round a point

    @property
    def plane(self) -> Plane:
        """The zone's plane."""
        return self.fit.plane


@dataclass(frozen=True, slots=True, eq=False)
class Offset:
    """A misfit of two fragments: on the whole, and where it is worst."""

    mean: float  # mm, NaN where nothing could be measured
    largest: float  # mm
    where: Vec3  # (3,) mm, place of the largest
    wide: float  # mm, what nine tenths of the surface, or of the rim, stay below


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """How far a fragment is turned against another, as gap and step betray it."""

    angle: float  # degrees, least turn that explains them
    blind: bool  # a turn about some axis would show neither as gap nor as step


@dataclass(frozen=True, slots=True, eq=False)
class Overlap:
    """How far two fragments run into one another."""

    volume: float  # mm³, 0 where they do not
    depth: float  # mm
    where: Vec3  # (3,) mm, place of the greatest depth, NaN where there is none


@dataclass(frozen=True, slots=True, eq=False)
class PairReport:
    """How two fragments fit; see `fracture_between` for what is measured."""

    fragments: tuple[int, int]  # rows as in `Shells.body`, 0..
    zones: tuple[str, ...]  # ids of the zones between them
    area: float  # mm² of surface that faces the other
    gap: Offset  # along the normal between them; negative where they overlap
    step: Offset  # absolute, between their outer surfaces, at the rim
    rim_found: float  # share of the rim that lies at the outer surface of both, 0..1
    overlap: Overlap
    islands: int  # small pieces of facing surface that were left out
    turn: Turn


@dataclass(frozen=True, slots=True, eq=False)
class Fracture:
    """A fracture, ready for planning."""

    source: Literal["plane", "points", "mesh", "group", "between"]
    zones: tuple[Zone, ...]
    cautions: tuple[str, ...]  # one sentence each
    reports: tuple[PairReport, ...] = ()  # of a fracture between fragments, one for each pair
