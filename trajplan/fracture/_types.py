"""What the fracture floor speaks in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from trajplan.arrays import Floats
    from trajplan.bone import Caster, Surface
    from trajplan.geometry import Plane

__all__ = ["Flatness", "Fracture", "PlaneFit", "Zone"]

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
    patch: Surface | None  # the fracture surface itself where one was given
    caster: Caster | None = None  # for crossings with `patch`

    @property
    def plane(self) -> Plane:
        """The zone's plane."""
        return self.fit.plane


@dataclass(frozen=True, slots=True, eq=False)
class Fracture:
    """A fracture, ready for planning."""

    source: Literal["plane", "points", "mesh", "group"]
    zones: tuple[Zone, ...]
    cautions: tuple[str, ...]  # one sentence each
