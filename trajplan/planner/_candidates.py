"""Candidate axes: over the fracture, from both sides, fanned round its normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import candidate_points, whole_region
from trajplan.geometry import fan
from trajplan.trajectory import Axes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Ints, Vec3, Vec3s
    from trajplan.fracture import Zone

__all__ = ["Candidates", "candidates"]

#: Directions of the fan at each point and side, the normal among them.
DIRECTIONS = 19


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """``n`` candidate axes; the origin of each is where it crosses the fracture."""

    axes: Axes
    kind: Ints  # (n,) row of the kinds wanted
    zone: Ints  # (n,) row of the zone that it is to close
    place: Ints  # (n,) number of the point and side that the candidate belongs to


def candidates(
    zones: Sequence[Zone], *, kinds: int, count: int, max_tilt: float, plane: Vec3 | None = None
) -> Candidates:
    """Spread candidates over a fracture, each zone by its share of the area.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of the fracture.
    kinds : int
        Kinds of screw; each gets the same axes.
    count : int
        Candidates wanted; about as many are made.
    max_tilt : float, degrees
        Half-angle of the fan round the normal.
    plane : (3,) float array, optional
        Unit normal of a plane, such as that of a joint, that the middle of each fan is
        turned into; the fan is then round the direction in that plane nearest to the
        fracture normal.

    Returns
    -------
    Candidates
        Deterministic: the same zones give the same candidates.
    """
    total = sum(zone.area for zone in zones)
    parts = [
        _over_zone(zone, _middle(zone, plane), kinds, count * zone.area / total, max_tilt)
        for zone in zones
    ]
    sizes = [len(part[0]) for part in parts]
    places = np.cumsum([0, *(int(part[3].max(initial=-1)) + 1 for part in parts)])
    return Candidates(
        axes=Axes.along(
            np.concatenate([part[0] for part in parts]), np.concatenate([part[1] for part in parts])
        ),
        kind=np.concatenate([part[2] for part in parts]),
        zone=np.repeat(np.arange(len(zones)), sizes),
        place=np.concatenate([part[3] + places[i] for i, part in enumerate(parts)]),
    )


def _middle(zone: Zone, plane: Vec3 | None) -> Vec3:
    """Middle of a zone's fan: its normal, or the direction nearest to it in a plane."""
    normal = zone.plane.normal
    if plane is None:
        return normal
    flat = normal - (normal @ plane) * plane
    length = float(np.linalg.norm(flat))
    middle: Vec3 = flat / length if length > ACROSS else normal
    return middle


#: Sine below which a fracture lies in the plane that its screws should run parallel to: no
#: direction in that plane comes near its normal, so the normal itself stays.
ACROSS = 0.1


def _over_zone(
    zone: Zone, normal: Vec3, kinds: int, count: float, max_tilt: float
) -> tuple[Vec3s, Vec3s, Ints, Ints]:
    """Points, directions, kinds and places of the candidates of one zone."""
    points = _points(zone, max(1, round(count / (2 * DIRECTIONS * kinds))))
    sides = np.concatenate([fan(s * normal, max_tilt, DIRECTIONS) for s in (1.0, -1.0)])
    n, m = len(points), len(sides)
    origin = np.repeat(points, m, axis=0)
    direction = np.tile(sides, (n, 1))
    place = 2 * np.repeat(np.arange(n), m) + np.tile(np.arange(m) // DIRECTIONS, n)
    return (
        np.tile(origin, (kinds, 1)),
        np.tile(direction, (kinds, 1)),
        np.repeat(np.arange(kinds), n * m),
        np.tile(place, kinds),
    )


def _points(zone: Zone, wanted: int) -> Vec3s:
    """About so many points on a grid over the region; its middle if the grid misses it."""
    spacing = float(np.sqrt(whole_region(zone).area / wanted * 2.0 / np.sqrt(3.0)))
    return candidate_points(zone, spacing)
