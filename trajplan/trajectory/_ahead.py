"""A joint that a screw runs towards: how deep its tip may go."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.bone import SurfaceDistance, point_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats
    from trajplan.trajectory._axes import Axes

__all__ = ["Joint", "reach_ahead"]

#: mm within which a screw's surface has met a joint, and steps in which it is found: each takes
#: off all the distance that is left where a screw runs straight at the joint, and most of it at
#: a slant. What is not found then is no joint ahead.
MET = 0.1
STEPS = 24


class Joint(NamedTuple):
    """A joint surface, and how near a screw may come to it."""

    distance: SurfaceDistance
    clearance: float  # mm


def reach_ahead(
    axes: Axes,
    rows: Bools,
    radius: Floats,
    start: Floats,
    end: Floats,
    joints: Sequence[Joint],
    spare: float,
) -> Floats:
    """Depth to which a tip may go on lines that run into a joint.

    Parameters
    ----------
    axes : Axes
        ``n`` axes, from their entries.
    rows : (n,) bool array
        Which of them to look at.
    radius : (n,) float array, mm
        Half of each thread's diameter.
    start, end : (n,) float arrays, mm
        Depth of the fracture, and where each axis leaves the bone.
    joints : sequence of Joint
        What is named.
    spare : float, mm
        Kept beyond each clearance.

    Returns
    -------
    (n,) float array, mm
        The deepest tip that keeps clearance and spare; NaN where the screw's own line meets no
        joint between the fracture and its way out of the bone. A joint that a line passes
        beside, however near, is none that it runs towards.
    """
    reach = np.full(len(axes), np.inf)
    for joint in joints:
        met = _march(joint, axes, rows, radius, start, end + joint.clearance)
        there = np.isfinite(met)
        kept = _back(joint, axes, there, radius, met, joint.clearance + spare)
        reach[there] = np.minimum(reach[there], kept[there])
    return np.where(np.isfinite(reach), reach, np.nan)


def _march(
    joint: Joint, axes: Axes, rows: Bools, radius: Floats, start: Floats, end: Floats
) -> Floats:
    """Depth at which each screw meets a joint: no step is longer than what is left."""
    depth, met = start.copy(), np.full(len(start), np.nan)
    going = np.flatnonzero(rows & np.isfinite(start) & np.isfinite(end))
    for _ in range(STEPS):
        left = _apart(joint, axes.take(going), depth[going], radius[going])
        hit = left <= MET
        met[going[hit]] = depth[going[hit]]
        depth[going] += left
        going = going[~hit & (depth[going] <= end[going])]
    return met


def _back(
    joint: Joint, axes: Axes, rows: Bools, radius: Floats, met: Floats, wanted: float
) -> Floats:
    """Deepest depth before a joint at which each screw keeps a distance from it."""
    depth = met.copy()
    going = np.flatnonzero(rows)
    for _ in range(STEPS):
        short = wanted - _apart(joint, axes.take(going), depth[going], radius[going])
        depth[going] -= np.fmax(short, 0.0)
        going = going[short > MET]
    return depth


def _apart(joint: Joint, axes: Axes, depth: Floats, radius: Floats) -> Floats:
    """Distance of a round tip's surface from a joint."""
    if not len(depth):
        return np.zeros(0)
    apart: Floats = point_distance(joint.distance, axes.at(depth)) - radius
    return apart
