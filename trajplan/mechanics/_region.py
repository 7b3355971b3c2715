"""A fracture region as points with areas: sums over them are integrals over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.arrays import as_directions, freeze
from trajplan.errors import CaseError
from trajplan.geometry import from_plane
from trajplan.mechanics._range import positive
from trajplan.mechanics._sides import zone_sides

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.fracture import Zone

__all__ = ["Region", "region_quadrature", "surface_regions"]

#: Weights of a triangle's corners at the three points of the rule that integrates
#: quadratics without error (common practice; Strang and Fix 1973).
RULE = np.array([[4.0, 1.0, 1.0], [1.0, 4.0, 1.0], [1.0, 1.0, 4.0]]) / 6.0
#: mm²; a smaller triangle is rounding of the cutting, and has no normal to trust.
SPECK = 1e-9
#: Longest edge of the pieces of a patch as a share of the size: with one point in each they
#: are about as many as the points of a flat region.
PIECE = 0.8
#: Cells of a flat region along its longer side, at most: a thin crescent has a small area
#: and would otherwise be cut along a grid of millions.
MOST_CELLS = 400


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """A surface between two fragments as points, each standing for a piece of it."""

    points: Vec3s  # (p, 3) mm
    normals: Vec3s  # (p, 3) unit, all from the one fragment to the other
    areas: Floats  # (p,) mm²
    normal: Vec3  # (3,) unit, of the zone's plane, or the mean over several zones
    triangles: Floats  # (t, 3, 3) mm, the pieces
    piece: Ints  # (p,) row of the triangle that a point stands for, in order
    zone: Ints  # (t,) row of the zone that a triangle lies in
    zones: Ints  # (z,) rows of the zones of the surface
    facing: Vec3s  # (z, 3) unit normals of their planes, to the side of `normals`

    @property
    def area(self) -> float:
        """Area of the whole region, mm²."""
        return float(self.areas.sum())

    @property
    def centre(self) -> Vec3:
        """Centre of its area, (3,) mm."""
        centre: Vec3 = self.areas @ self.points / self.area
        return centre

    def over_triangles(self, values: Floats) -> Floats:
        """Mean of a value over each triangle.

        Parameters
        ----------
        values : (p,) float array
            At the points.

        Returns
        -------
        (t,) float array
        """
        count = len(self.triangles)
        mean: Floats = np.bincount(self.piece, values, count) / np.bincount(
            self.piece, minlength=count
        )
        return mean

    def of_zone(self, row: int) -> Bools:
        """Points that lie in a zone.

        Parameters
        ----------
        row : int
            Row of the zone.

        Returns
        -------
        (p,) bool array
        """
        inside: Bools = self.zone[self.piece] == row
        return inside

    def facing_of(self, zone: Ints) -> Vec3s:
        """Normals of the planes of zones, to the side of the region's normals.

        Parameters
        ----------
        zone : (n,) int array
            Rows of zones, each one of the region's.

        Returns
        -------
        (n, 3) float array
        """
        normals: Vec3s = self.facing[np.searchsorted(self.zones, zone)]
        return normals


def region_quadrature(zone: Zone, size: float) -> Region:
    """Spread points over one fracture zone.

    Parameters
    ----------
    zone : Zone
        The zone: its own triangles where it has a patch, else its flat region with the
        canal cut out.
    size : float, mm
        Side of the square cells that a flat region is cut along, which are at most 400 along
        its longer side; pieces of a patch are somewhat smaller.

    Returns
    -------
    Region
        Area and centroid come out exact, whatever the size, and on a flat region, with three
        points a piece, second moments too; a piece of a patch has one point. The edge of the
        contact is found the better the smaller the size.

    Raises
    ------
    CaseError
        If the zone has no area.
    DegenerateError
        If the size is not above zero.
    """
    return surface_regions([zone], size)[0]


def surface_regions(zones: Sequence[Zone], size: float) -> tuple[Region, ...]:
    """Spread points over a fracture: one region for each surface between two fragments.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of a fracture.
    size : float, mm
        As in `region_quadrature`.

    Returns
    -------
    tuple of Region
        See `zone_sides` for the zones that make up one surface.

    Raises
    ------
    CaseError, DegenerateError
        As `region_quadrature`.
    """
    positive("size", size)
    surface, side = zone_sides(zones)
    return tuple(
        _region(zones, np.flatnonzero(surface == number), side, size)
        for number in range(int(surface.max()) + 1)
    )


def _region(zones: Sequence[Zone], rows: Ints, side: Floats, size: float) -> Region:
    facing = np.array([side[row] * zones[row].plane.normal for row in rows])
    parts = [_pieces(zones[row], size) for row in rows]
    owner = np.repeat(np.arange(len(rows)), [len(part) for part in parts])
    triangles = np.concatenate(parts)
    doubled = _doubled(triangles)
    area = 0.5 * np.linalg.norm(doubled, axis=1)
    unit = doubled / (2.0 * area[:, None])
    away = np.einsum("ij,ij->i", unit, facing[owner]) < 0.0
    unit[away] = -unit[away]
    points, piece = _points(triangles, flat=zones[rows[0]].patch is None)
    areas = (area / np.bincount(piece))[piece]
    mean = facing[0] if len(rows) == 1 else as_directions(area @ unit, "mean normal")[0]
    normals = unit[piece]
    freeze(points, normals, areas, triangles, facing)
    return Region(points, normals, areas, mean, triangles, piece, rows[owner], rows, facing)


def _pieces(zone: Zone, size: float) -> Floats:
    """Triangles of a zone, none much larger than a size."""
    if zone.patch is None:
        triangles = _flat(zone, size)
    else:
        triangles = _split(zone.patch.triangles(), PIECE * size)
    solid = 0.5 * np.linalg.norm(_doubled(triangles), axis=1) > SPECK
    if not solid.any():
        raise CaseError(
            "the fracture has no area, so there is no far fragment to press on",
            remedy="give a fracture that cuts the bone",
            where=f"zone {zone.id}",
        )
    kept: Floats = triangles[solid]
    return kept


def _doubled(triangles: Floats) -> Vec3s:
    """Normals of triangles, as long as twice their area."""
    a, b, c = triangles.transpose(1, 0, 2)
    normals: Vec3s = np.cross(b - a, c - a)
    return normals


def _points(triangles: Floats, *, flat: bool) -> tuple[Vec3s, Ints]:
    """Three points in each triangle of a flat region, else one; the triangle of each."""
    spread = RULE @ triangles if flat else triangles.mean(axis=1, keepdims=True)
    return spread.reshape(-1, 3), np.repeat(np.arange(len(triangles)), spread.shape[1])


def _flat(zone: Zone, size: float) -> Floats:
    """Cut a flat region along a square grid, and the pieces into triangles."""
    bounds = np.reshape(zone.region.bounds, (2, 2))
    size = max(size, float(np.ptp(bounds, axis=0).max()) / MOST_CELLS)
    across, up = (
        np.linspace(low, high, 1 + int(np.ceil((high - low) / size))) for low, high in bounds.T
    )
    left, low = np.meshgrid(across[:-1], up[:-1])
    right, high = np.meshgrid(across[1:], up[1:])
    cells = shapely.box(left.ravel(), low.ravel(), right.ravel(), high.ravel())
    shapely.prepare(zone.region)
    met = cells[shapely.intersects(zone.region, cells)]
    whole = shapely.contains_properly(zone.region, met)
    met[~whole] = shapely.intersection(met[~whole], zone.region)
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(met))
    corners = shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3]
    return from_plane(zone.plane, corners.reshape(-1, 2)).reshape(-1, 3, 3)


def _split(triangles: Floats, size: float) -> Floats:
    """Halve triangles at their longest edge until no edge is longer than a size."""
    done = []
    while len(triangles):
        edges = np.linalg.norm(np.roll(triangles, -1, axis=1) - triangles, axis=2)
        long = edges.max(axis=1) > size
        done.append(triangles[~long])
        first = edges[long].argmax(axis=1)
        a, b, c = (
            np.take_along_axis(triangles[long], ((first + k) % 3)[:, None, None], axis=1)[:, 0]
            for k in range(3)
        )
        middle = (a + b) / 2.0
        triangles = np.concatenate(
            [np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)]
        )
    return np.concatenate([*done, np.empty((0, 3, 3))])
