"""Where screws cross the fracture: on the whole ring, not on the axis alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import beside_fracture, fracture_depth, local_normals
from trajplan.trajectory._axes import bundle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.fracture import Zone
    from trajplan.trajectory._corridors import Corridors
    from trajplan.trajectory._trajectory import Trajectories

__all__ = ["Crossing", "at_the_entry", "cross", "surface_normals", "zone_depth"]


#: mm that an axis may pass beside the outline of the fracture, which is drawn as a polygon
#: and, on a curved surface, in the plane of its zone (assumption).
BESIDE = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Crossing:
    """Where the lines of ``n`` bundles cross the fracture; depths from the entry, mm."""

    lines: Floats  # (n, k + 1), the axis first
    inside: Bools  # (n,) the axis crosses the fracture itself, within the bone
    tilt: Floats  # (n,) degrees between axis and fracture normal
    zone: Ints  # (n,) row of the zone that is crossed
    bound: Floats  # (n,) degrees, 95 % bound on the fracture normal; 0 for a plane that was given
    on_patch: Bools  # (n,) every line met the fracture surface itself, not its plane

    @property
    def shallow(self) -> Floats:
        """Shallowest crossing of axis and ring, (n,) mm."""
        least: Floats = np.fmin.reduce(self.lines, axis=1)
        return least

    @property
    def axis(self) -> Floats:
        """Crossing of the axis, (n,) mm."""
        return self.lines[:, 0]

    @property
    def deep(self) -> Floats:
        """Deepest crossing of axis and ring, (n,) mm."""
        greatest: Floats = np.fmax.reduce(self.lines, axis=1)
        return greatest


def zone_depth(
    zones: Sequence[Zone], zone: Ints, origin: Vec3s, direction: Vec3s
) -> tuple[Floats, Bools]:
    """Depth at which each line crosses the zone that it is meant for.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of the fracture.
    zone : (m,) int array
        Row of ``zones`` for each line.
    origin, direction : (m, 3) float arrays
        The lines.

    Returns
    -------
    depth : (m,) float array, mm
        NaN where a line is parallel to its zone.
    on_patch : (m,) bool array
        The depth was taken on the fracture surface itself.
    """
    depth, on_patch = np.full(len(zone), np.nan), np.zeros(len(zone), dtype=np.bool_)
    for number, part in enumerate(zones):
        rows = np.flatnonzero(zone == number)
        if len(rows):
            depth[rows], on_patch[rows] = fracture_depth(part, origin[rows], direction[rows])
    return depth, on_patch


def cross(corridors: Corridors, zones: Sequence[Zone], zone: Ints) -> Crossing:
    """Cross the fracture with the axis and every ring line, from the entry on.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes as cast.
    zones : sequence of Zone
        Zones of the fracture.
    zone : (n,) int array
        Row of ``zones`` that each axis is meant to cross.

    Returns
    -------
    Crossing
    """
    n, lines = corridors.line_entry.shape
    origin, direction = bundle(
        corridors.axes, corridors.radius[:, None], corridors.ring, with_axis=True
    )
    flat, on_patch = zone_depth(zones, np.repeat(zone, lines), origin, direction)
    depth = flat.reshape(n, lines)
    depth[~corridors.hit] = np.nan
    axis = depth[:, 0]
    beside = beside_fracture(zones, corridors.axes.at(axis))
    with np.errstate(invalid="ignore"):
        inside = (axis > 0.0) & (axis < corridors.exit) & (beside <= BESIDE)
    normals = np.array([part.plane.normal for part in zones])[zone]
    cosine = np.abs(np.einsum("ij,ij->i", corridors.axes.direction, normals))
    return Crossing(
        lines=depth,
        inside=inside,
        tilt=np.degrees(np.arccos(np.clip(cosine, 0.0, 1.0))),
        zone=zone,
        bound=np.nan_to_num([part.fit.normal_bound for part in zones], nan=0.0)[zone],
        on_patch=np.logical_and.reduce(on_patch.reshape(n, lines), axis=1),
    )


def at_the_entry(corridors: Corridors) -> Crossing:
    """Take the entry for the crossing, of screws that are to cross no fracture.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes as cast.

    Returns
    -------
    Crossing
        All bone of such a screw, as of one through a plate, counts as beyond the fracture.
    """
    n = len(corridors.hit)
    lines = np.where(np.isnan(corridors.line_entry), 0.0, corridors.line_entry)
    lines[~corridors.hit] = np.nan
    return Crossing(
        lines=lines,
        inside=corridors.hit.copy(),
        tilt=np.zeros(n),
        zone=np.zeros(n, dtype=np.int64),
        bound=np.zeros(n),
        on_patch=np.ones(n, dtype=np.bool_),
    )


def surface_normals(screws: Trajectories, zones: Sequence[Zone]) -> Vec3s:
    """Normal of the fracture surface itself round the crossing of each screw.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    zones : sequence of Zone
        Zones of the fracture.

    Returns
    -------
    (n, 3) float array
        Unit normals, as from `trajplan.fracture.local_normals`; NaN where a screw does not
        cross the fracture, where that is a plane, and where too little surface lies there.
    """
    crossing = screws.crossing
    points = screws.corridors.axes.at(crossing.axis)
    normals = np.full(points.shape, np.nan)
    for number, zone in enumerate(zones):
        rows = np.flatnonzero((crossing.zone == number) & crossing.inside)
        if zone.pieces is not None and len(rows):
            normals[rows] = local_normals(zone.pieces, points[rows], screws.dims.thread[rows])
    return normals
