"""Candidate axes: over the fracture, from both sides, fanned round its normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import TO_FRACTURE, Aim
from trajplan.fracture import candidate_points, fracture_depth, local_normals, whole_region
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
    zones: Sequence[Zone],
    *,
    kinds: int,
    count: int,
    max_tilt: float,
    plane: Vec3 | None = None,
    thread: float | None = None,
    aim: Aim = TO_FRACTURE,
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
        Half-angle of the fan round the normal, or round the direction aimed at.
    plane : (3,) float array, optional
        Unit normal of a plane, such as that of a joint, that the middle of each fan is
        turned into; the fan is then round the direction in that plane nearest to the
        fracture normal.
    thread : float, mm, optional
        Thread diameter, in which the reach of a screw over a curved fracture is measured: each
        fan is then opened between the normal of its zone and that of the surface round its
        point, because a screw must stand square enough on both. By default round the zone's.
    aim : Aim
        What the screws are to stand square to.

    Returns
    -------
    Candidates
        Deterministic: the same zones give the same candidates.
    """
    total = sum(zone.area for zone in zones)
    parts = [
        _over_zone(zone, kinds, count * zone.area / total, max_tilt, plane, thread, aim)
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


def _middles(
    zone: Zone, points: Vec3s, plane: Vec3 | None, thread: float | None, aim: Aim
) -> Vec3s:
    """Middle of the fan at each point: as it is aimed, or the direction nearest in a plane."""
    normals = aim.directions(_normals(zone, points, thread))
    if plane is None:
        return normals
    flat = normals - (normals @ plane)[:, None] * plane
    length = np.linalg.norm(flat, axis=1, keepdims=True)
    return np.where(length > ACROSS, flat / np.where(length > ACROSS, length, 1.0), normals)


def _normals(zone: Zone, points: Vec3s, thread: float | None) -> Vec3s:
    """Normal to screw along at each point, on the side of the zone's own."""
    own = np.tile(zone.plane.normal, (len(points), 1))
    if zone.pieces is None or thread is None:
        return own
    local = local_normals(zone.pieces, points, np.full(len(points), thread))
    told = local @ zone.plane.normal > 0.0  # False where none is known
    between = own + np.where(told[:, None], local, own)
    unit: Vec3s = between / np.linalg.norm(between, axis=1, keepdims=True)
    return unit


#: Sine below which a fracture lies in the plane that its screws should run parallel to: no
#: direction in that plane comes near its normal, so the normal itself stays.
ACROSS = 0.1


def _over_zone(
    zone: Zone,
    kinds: int,
    count: float,
    max_tilt: float,
    plane: Vec3 | None,
    thread: float | None,
    aim: Aim,
) -> tuple[Vec3s, Vec3s, Ints, Ints]:
    """Points, directions, kinds and places of the candidates of one zone."""
    points = _points(zone, max(1, round(count / (2 * DIRECTIONS * kinds))))
    middles = _middles(zone, points, plane, thread, aim)
    both = np.stack([middles, -middles], axis=1).reshape(-1, 3)  # of each point, from both sides
    direction = fan(both, max_tilt, DIRECTIONS).reshape(-1, 3)
    n = len(direction)
    return (
        np.tile(np.repeat(points, 2 * DIRECTIONS, axis=0), (kinds, 1)),
        np.tile(direction, (kinds, 1)),
        np.repeat(np.arange(kinds), n),
        np.tile(np.arange(n) // DIRECTIONS, kinds),
    )


def _points(zone: Zone, wanted: int) -> Vec3s:
    """About so many points on a grid over the fracture; its middle if the grid misses it."""
    spacing = float(np.sqrt(whole_region(zone).area / wanted * 2.0 / np.sqrt(3.0)))
    flat = candidate_points(zone, spacing)
    normal = np.tile(zone.plane.normal, (len(flat), 1))
    depth, _ = fracture_depth(zone, flat, normal)  # nothing where the zone is a plane
    return flat + depth[:, None] * normal
