"""Which zone a line is meant for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.fracture._zone import fracture_depth
from trajplan.geometry import to_plane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Ints, Vec3s
    from trajplan.fracture._types import Zone

__all__ = ["nearest_zone"]


def nearest_zone(zones: Sequence[Zone], origin: Vec3s, direction: Vec3s) -> Ints:
    """Zone that each line crosses, or passes nearest to, measured in the zone's plane.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of a fracture, one or more.
    origin, direction : (m, 3) float arrays
        The lines.

    Returns
    -------
    (m,) int array
        Rows of ``zones``; of zones that are crossed alike, the one crossed most squarely.
    """
    if len(zones) == 1:
        return np.zeros(len(origin), dtype=np.int64)
    cost = np.empty((len(zones), len(origin)))
    for row, zone in enumerate(zones):
        depth, _ = fracture_depth(zone, origin, direction)
        flat = to_plane(zone.plane, origin + np.nan_to_num(depth)[:, None] * direction)
        filled = shapely.union_all([shapely.Polygon(part.exterior) for part in zone.region.geoms])
        outside = shapely.distance(filled, shapely.points(flat))
        slant = 1.0 - np.abs(direction @ zone.plane.normal)
        cost[row] = np.where(np.isnan(depth), np.inf, outside + slant)
    best: Ints = np.argmin(cost, axis=0)
    return best
