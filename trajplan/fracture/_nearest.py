"""Which zone a line is meant for, and which fragments it joins there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.arrays import rows_of
from trajplan.bone import line_spans
from trajplan.fracture._zone import fracture_depth, whole_region
from trajplan.geometry import to_plane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone, Spans
    from trajplan.fracture._types import Zone

__all__ = ["beside_fracture", "joins_pair", "near_fracture", "nearest_zone"]

#: mm that a zone counts as farther off where a line joins other fragments than its two: more
#: than any zone of a bone is away.
OTHER_PAIR = 1e6


def nearest_zone(bone: Bone, zones: Sequence[Zone], origin: Vec3s, direction: Vec3s) -> Ints:
    """Zone that each line crosses, or passes nearest to, measured in the zone's plane.

    Parameters
    ----------
    bone : Bone
        The bone.
    zones : sequence of Zone
        Zones of a fracture, one or more.
    origin, direction : (m, 3) float arrays
        The lines.

    Returns
    -------
    (m,) int array
        Rows of ``zones``; where the bone lies in three fragments or more, of zones between
        the two that the line joins if there are any; of zones that are crossed alike, the
        one crossed most squarely.
    """
    if len(zones) == 1:
        return np.zeros(len(origin), dtype=np.int64)
    cost = np.empty((len(zones), len(origin)))
    several = len({zone.fragments for zone in zones}) > 1
    solid = line_spans(bone, origin, direction).solid if several else None
    for row, zone in enumerate(zones):
        depth, _ = fracture_depth(zone, origin, direction)
        flat = to_plane(zone.plane, origin + np.nan_to_num(depth)[:, None] * direction)
        outside = shapely.distance(whole_region(zone), shapely.points(flat))
        slant = 1.0 - np.abs(direction @ zone.plane.normal)
        cost[row] = np.where(np.isnan(depth), np.inf, outside + slant)
        if solid is not None:
            cost[row] += np.where(joins_pair(zone, solid, depth), 0.0, OTHER_PAIR)
    best: Ints = np.argmin(cost, axis=0)
    return best


def joins_pair(zone: Zone, solid: Spans, depth: Floats) -> Bools:
    """Whether lines pass from one fragment of a zone to its other where they cross it.

    Parameters
    ----------
    zone : Zone
        The fracture.
    solid : Spans
        Where ``m`` lines run in bone.
    depth : (m,) float array, mm
        Depth at which each crosses the zone, from where the spans are counted; NaN: nowhere.

    Returns
    -------
    (m,) bool array
        The stretches of bone next to the crossing, past the canal if it lies there, are of
        the zone's two fragments. True of zones that part no fragments.
    """
    if zone.fragments is None:
        return np.ones(len(depth), dtype=np.bool_)
    line = rows_of(solid.offsets)
    middle = (solid.start + solid.end) / 2.0  # where fragments overlap, ends would mislead
    before = np.full(len(depth), -1)
    after = before.copy()
    order = np.argsort(middle, kind="stable")
    near = order[middle[order] < depth[line[order]]]
    far = order[middle[order] >= depth[line[order]]][::-1]
    before[line[near]] = solid.body[near]  # the last one written stays: the nearest
    after[line[far]] = solid.body[far]
    a, b = zone.fragments
    joined: Bools = ((before == a) & (after == b)) | ((before == b) & (after == a))
    return joined


def near_fracture(
    zones: Sequence[Zone], origin: Vec3s, direction: Vec3s, depth: Floats, reach: Floats
) -> Bools:
    """Whether the fracture runs near some depth of each line.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of a fracture.
    origin, direction : (m, 3) float arrays
        The lines.
    depth : (m,) float array, mm
        A depth on each.
    reach : (m,) float array, mm
        How far from it, along the line and beside the outline, the fracture may run.

    Returns
    -------
    (m,) bool array
    """
    near = np.zeros(len(depth), dtype=np.bool_)
    for zone in zones:
        at, _ = fracture_depth(zone, origin, direction, near=depth)
        rows = np.flatnonzero(~near & (np.abs(at - depth) <= reach))
        if len(rows):
            points = origin[rows] + at[rows, None] * direction[rows]
            flat = shapely.points(to_plane(zone.plane, points))
            near[rows] = shapely.distance(whole_region(zone), flat) <= reach[rows]
    return near


def beside_fracture(zones: Sequence[Zone], points: Vec3s) -> Floats:
    """How far points of the fracture planes lie beside the fracture, the canal counted in.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of a fracture, one or more.
    points : (m, 3) float array, mm
        Where axes cross; NaN where they do not.

    Returns
    -------
    (m,) float array, mm
        0 over a zone, and on a plane that was given without a surface; NaN where a point
        is NaN.
    """
    apart = np.full((len(zones), len(points)), np.nan)
    known = np.isfinite(points).all(axis=1)
    for row, zone in enumerate(zones):
        if zone.patch is None:  # a plane has no rim: it parts all bone that it meets
            apart[row, known] = 0.0
            continue
        flat = shapely.points(to_plane(zone.plane, points[known]))
        apart[row, known] = shapely.distance(whole_region(zone), flat)
    least: Floats = apart.min(axis=0)
    return least
