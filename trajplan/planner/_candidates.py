"""Candidate axes: over the fracture, from both sides, fanned round its normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import candidate_points
from trajplan.geometry import fan
from trajplan.trajectory import Axes

if TYPE_CHECKING:
    from trajplan.arrays import Ints, Vec3s
    from trajplan.fracture import Zone

__all__ = ["Candidates", "candidates"]

#: Directions of the fan at each point and side, the normal among them.
DIRECTIONS = 19


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """``n`` candidate axes; the origin of each is where it crosses the fracture."""

    axes: Axes
    kind: Ints  # (n,) row of the kinds wanted
    place: Ints  # (n,) number of the point and side that the candidate belongs to


def candidates(zone: Zone, *, kinds: int, count: int, max_tilt: float) -> Candidates:
    """Spread candidates over a fracture.

    Parameters
    ----------
    zone : Zone
        The fracture.
    kinds : int
        Kinds of screw; each gets the same axes.
    count : int
        Candidates wanted; about as many are made.
    max_tilt : float, degrees
        Half-angle of the fan round the normal.

    Returns
    -------
    Candidates
        Deterministic: the same zone gives the same candidates.
    """
    points = _points(zone, max(1, round(count / (2 * DIRECTIONS * kinds))))
    normal = zone.plane.normal
    sides = np.concatenate([fan(s * normal, max_tilt, DIRECTIONS) for s in (1.0, -1.0)])
    n, m = len(points), len(sides)
    origin = np.repeat(points, m, axis=0)
    direction = np.tile(sides, (n, 1))
    place = 2 * np.repeat(np.arange(n), m) + np.tile(np.arange(m) // DIRECTIONS, n)
    return Candidates(
        axes=Axes.along(np.tile(origin, (kinds, 1)), np.tile(direction, (kinds, 1))),
        kind=np.repeat(np.arange(kinds), n * m),
        place=np.tile(place, kinds),
    )


def _points(zone: Zone, wanted: int) -> Vec3s:
    """About so many points on a grid over the region; its middle if the grid misses it."""
    area = sum(_filled_area(part) for part in zone.region.geoms)
    spacing = float(np.sqrt(area / wanted * 2.0 / np.sqrt(3.0)))
    return candidate_points(zone, spacing)


def _filled_area(part: object) -> float:
    from shapely import Polygon

    assert isinstance(part, Polygon)
    return float(Polygon(part.exterior).area)
