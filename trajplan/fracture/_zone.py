"""Where lines cross a zone, its outline, and points spread over it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import Polygon

from trajplan.arrays import offsets_of, rows_of
from trajplan.bone import element_distance
from trajplan.geometry import from_plane, plane_depth, to_plane

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.bone import Crossings
    from trajplan.fracture._types import Zone

__all__ = ["candidate_points", "distance_to_outline", "fracture_depth", "outline", "whole_region"]


def fracture_depth(
    zone: Zone, origin: Vec3s, direction: Vec3s, near: Floats | None = None
) -> tuple[Floats, Bools]:
    """Depth at which lines cross the fracture.

    Parameters
    ----------
    zone : Zone
        The fracture.
    origin, direction : (m, 3) float arrays
        A point on each line (mm) and its unit direction; lines are endless.
    near : (m,) float array, mm, optional
        Where a line crosses the fracture surface several times, the crossing nearest to
        this depth is taken; by default nearest to its crossing with the plane.

    Returns
    -------
    depth : (m,) float array, mm
        On the fracture surface where there is one and the line meets it, on the plane
        otherwise; NaN where the line is parallel to the plane and meets no surface.
    on_patch : (m,) bool array
        The depth was taken on the fracture surface.
    """
    depth = plane_depth(zone.plane, origin, direction)
    if zone.caster is None:
        return depth, np.zeros(len(depth), dtype=np.bool_)
    target = depth if near is None else np.asarray(near, dtype=np.float64)
    middle = np.einsum("ij,ij->i", zone.plane.point - origin, direction)
    target = np.where(np.isnan(target), middle, target)
    patch = _nearest_crossing(zone.caster.crossings(origin, direction), target)
    on_patch = np.isfinite(patch)
    return np.where(on_patch, patch, depth), on_patch


def _nearest_crossing(crossings: Crossings, target: Floats) -> Floats:
    """Depth of the crossing nearest to a target in each row; NaN in empty rows."""
    row = rows_of(crossings.offsets)
    order = np.lexsort((np.abs(crossings.depth - target[row]), row))
    depth = np.full(len(target), np.nan)
    filled = np.diff(crossings.offsets) > 0
    depth[filled] = crossings.depth[order[crossings.offsets[:-1][filled]]]
    return depth


def outline(zone: Zone) -> list[Vec3s]:
    """Fracture line on the outer surface of the bone.

    Parameters
    ----------
    zone : Zone
        The fracture.

    Returns
    -------
    list of (k, 3) float arrays, mm
        The rim of the whole fracture surface where there is one, or of a plane through the
        walls of an open canal (seams between zones are no part of it; open lines where it
        ends at the canal); else closed rings, the first
        point repeated at the end, round the region in its plane; the canal has none.
    """
    if zone.rim:
        return list(zone.rim)
    return [_lifted(zone, np.array(part.exterior.coords)) for part in zone.region.geoms]


def _lifted(zone: Zone, flat: Floats) -> Vec3s:
    ring = from_plane(zone.plane, flat)
    if zone.patch is None:
        return ring
    vertices = zone.patch.vertices[np.unique(zone.patch.faces)]
    nearest = cKDTree(to_plane(zone.plane, vertices)).query(flat)[1]
    return ring + zone.plane.height(vertices)[nearest, None] * zone.plane.normal


def distance_to_outline(zone: Zone, points: Vec3s) -> Floats:
    """Distance in space from points to the fracture line on the outer surface.

    Parameters
    ----------
    zone : Zone
        The fracture.
    points : (n, 3) float array, mm
        Points, such as entries and exits; a row of NaN gives NaN.

    Returns
    -------
    (n,) float array, mm
    """
    rings = outline(zone)
    offsets = offsets_of(np.array([len(ring) for ring in rings]))
    start = np.delete(np.arange(offsets[-1]), offsets[1:] - 1)  # the last of a ring starts nothing
    segments = np.stack([start, start + 1], axis=1)
    return element_distance(points, np.concatenate(rings), segments)


def candidate_points(zone: Zone, spacing: float, inset: float = 0.0) -> Vec3s:
    """Points of a hexagonal grid over a zone, the canal included.

    Parameters
    ----------
    zone : Zone
        The fracture.
    spacing : float, mm
        Distance between neighbours, above zero.
    inset : float, mm
        Distance kept from the outline.

    Returns
    -------
    (k, 3) float array, mm
        On the plane; the same zone gives the same points. One point in the middle where
        the grid misses a small region, none where the inset leaves nothing of it.

    Raises
    ------
    ValueError
        If the spacing is not above zero.
    """
    if not spacing > 0.0:
        raise ValueError(f"spacing must be above zero, got {spacing}")
    whole = whole_region(zone)
    filled = whole.buffer(-inset) if inset > 0.0 else whole
    if filled.is_empty:
        return np.empty((0, 3))
    grid = _hexagons(filled, spacing)
    inside = grid[shapely.contains_xy(filled, grid[:, 0], grid[:, 1])]
    if len(inside) == 0:
        inside = shapely.get_coordinates(filled.representative_point())
    return from_plane(zone.plane, inside)


def whole_region(zone: Zone) -> Any:  # noqa: ANN401 - shapely has no types here
    """Where a screw that closes a zone may cross its plane: the region, the canal included.

    Parameters
    ----------
    zone : Zone
        The fracture.

    Returns
    -------
    Polygon or MultiPolygon
        In the frame of the plane. Between two fragments the convex hull: where a third one
        lies beside them, the surface runs only part of the way round the canal. Of several
        parts too: they are the walls of one canal.
    """
    if zone.fragments is not None or (zone.patch is None and len(zone.region.geoms) > 1):
        return zone.region.convex_hull
    return shapely.union_all([Polygon(part.exterior) for part in zone.region.geoms])


def _hexagons(area: Any, spacing: float) -> Floats:  # noqa: ANN401 - shapely has no types here
    """Hexagonal grid over the bounds of an area, with one point on its centroid."""
    middle = shapely.get_coordinates(area.centroid)[0]
    low, high = np.reshape(area.bounds, (2, 2)) - middle
    rise = spacing * np.sqrt(3.0) / 2.0
    row = np.arange(np.floor(low[1] / rise), np.ceil(high[1] / rise) + 1.0)
    column = np.arange(np.floor(low[0] / spacing) - 1.0, np.ceil(high[0] / spacing) + 1.0)
    x = column + 0.5 * (row % 2.0)[:, None]
    y = np.broadcast_to(row[:, None], x.shape)
    grid: Floats = middle + np.stack([x.ravel() * spacing, y.ravel() * rise], axis=1)
    return grid
