"""A fracture region as points with areas: sums over them are integrals over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.arrays import freeze
from trajplan.errors import CaseError
from trajplan.geometry import from_plane
from trajplan.mechanics._range import positive

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.fracture import Zone

__all__ = ["Region", "region_quadrature"]

#: Weights of a triangle's corners at the three points of the rule that integrates
#: quadratics without error (common practice; Strang and Fix 1973).
RULE = np.array([[4.0, 1.0, 1.0], [1.0, 4.0, 1.0], [1.0, 1.0, 4.0]]) / 6.0
#: mm²; a smaller triangle is rounding of the cutting, and has no normal to trust.
SPECK = 1e-9
#: Cells of a flat region along its longer side, at most: a thin crescent has a small area
#: and would otherwise be cut along a grid of millions.
MOST_CELLS = 400


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Points on a fracture surface, each standing for a piece of it."""

    points: Vec3s  # (p, 3) mm
    normals: Vec3s  # (p, 3) unit, from the near fragment to the far one
    areas: Floats  # (p,) mm²
    normal: Vec3  # (3,) unit, of the zone's plane

    @property
    def area(self) -> float:
        """Area of the whole region, mm²."""
        return float(self.areas.sum())

    @property
    def triangles(self) -> Floats:
        """Corners of the triangles that each three points in turn stand for, (p / 3, 3, 3) mm."""
        corners = np.linalg.solve(RULE, self.points.reshape(-1, 3, 3))
        return np.asarray(corners, dtype=np.float64)


def region_quadrature(zone: Zone, size: float) -> Region:
    """Spread points over a fracture zone.

    Parameters
    ----------
    zone : Zone
        The zone: its own triangles where it has a patch, else its flat region with the
        canal cut out.
    size : float, mm
        Side of the square cells that a flat region is cut along, which are at most 400 along
        its longer side; longest edge of the pieces of a patch.

    Returns
    -------
    Region
        Three points a triangle: area, centroid and second moments of the region come out
        exact, whatever the size; the edge of the contact is found the better the smaller.

    Raises
    ------
    CaseError
        If the zone has no area.
    DegenerateError
        If the size is not above zero.
    """
    positive("size", size)
    triangles = _flat(zone, size) if zone.patch is None else zone.patch.triangles()
    triangles = _split(triangles, size) if zone.patch is not None else triangles
    doubled = np.cross(
        triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    ).reshape(-1, 3)
    area = 0.5 * np.linalg.norm(doubled, axis=1)
    solid = area > SPECK
    if not solid.any():
        raise CaseError(
            "the fracture has no area, so there is no far fragment to press on",
            remedy="give a fracture that cuts the bone",
            where=f"zone {zone.id}",
        )
    triangles, doubled, area = triangles[solid], doubled[solid], area[solid]
    unit = doubled / (2.0 * area[:, None])
    unit = np.where((unit @ zone.plane.normal < 0.0)[:, None], -unit, unit)
    points = (RULE @ triangles).reshape(-1, 3)
    normals, areas = np.repeat(unit, 3, axis=0), np.repeat(area / 3.0, 3)
    freeze(points, normals, areas)
    return Region(points, normals, areas, zone.plane.normal)


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
