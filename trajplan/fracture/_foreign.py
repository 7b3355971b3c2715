"""Which bodies the fracture parts, and which have nothing to do with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from trajplan.arrays import rows_of
from trajplan.bone import line_spans
from trajplan.fracture._zone import candidate_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.fracture._types import Zone

__all__ = ["foreign_bodies"]

#: mm on either side of the fracture within which a body must begin to be parted by it
#: (assumption: a gap that a screw could still close, with room to spare).
REACH = 5.0
#: Points spread over each zone.
SAMPLES = 300
#: Share of a zone's points on which two bodies must face each other across it: beside the
#: rim a line may meet a neighbour by chance (assumption).
LEAST_SHARE = 0.05


def foreign_bodies(bone: Bone, zones: Sequence[Zone]) -> Ints:
    """Find the bodies of a bone that no zone parts from, or leaves whole in, the broken bone.

    Parameters
    ----------
    bone : Bone
        The bone.
    zones : sequence of Zone
        The fracture.

    Returns
    -------
    (k,) int array
        Bodies as in `Shells.body`; none where the fracture meets no body at all.

    Notes
    -----
    At points spread over each zone a line runs along its normal. The two bodies that come
    nearest to the fracture on it, within 5 mm, belong together; a body that the fracture
    crosses belongs to itself. Of the groups that come of this the one met most often is
    the broken bone.
    """
    bodies = int(bone.shells.body.max()) + 1
    if bodies == 1:
        return np.zeros(0, dtype=np.int64)
    links, met = [], np.zeros(bodies)
    for zone in zones:
        pairs = _facing_pairs(bone, *_samples(zone))
        met += np.bincount(pairs.ravel(), minlength=bodies)
        one, count = np.unique(np.sort(pairs, axis=1), axis=0, return_counts=True)
        links.append(one[count >= LEAST_SHARE * max(len(pairs), 1)])
    if not met.any():
        return np.zeros(0, dtype=np.int64)
    ends = np.concatenate(links)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(bodies, bodies))
    group = connected_components(graph, directed=False)[1]
    broken = np.bincount(group, met).argmax()
    return np.flatnonzero(group != broken)


def _samples(zone: Zone) -> tuple[Vec3s, Vec3s]:
    """Points spread over a zone, and its normal at each."""
    if zone.patch is not None:
        middles = zone.patch.vertices[zone.patch.faces].mean(axis=1)
        points = middles[:: max(1, len(middles) // SAMPLES)]
    else:
        points = candidate_points(zone, float(np.sqrt(zone.area / SAMPLES)))
    return points, np.tile(zone.plane.normal, (len(points), 1))


def _facing_pairs(bone: Bone, points: Vec3s, normals: Vec3s) -> Ints:
    """The two bodies that each line meets nearest to its point; one twice where it meets one."""
    solid = line_spans(bone, points, normals).solid
    line = rows_of(solid.offsets)
    away = np.maximum(np.maximum(solid.start, -solid.end), 0.0)
    item = np.flatnonzero(away <= REACH)
    item = item[np.lexsort((away[item], line[item]))]
    key = line[item] * (int(bone.shells.body.max()) + 1) + solid.body[item]
    item = item[np.sort(np.unique(key, return_index=True)[1])]  # each body once, nearest first
    first = np.flatnonzero(np.r_[True, np.diff(line[item]) != 0]) if len(item) else item
    follows = np.minimum(first + 1, max(len(item) - 1, 0))
    second = np.where(line[item[follows]] == line[item[first]], follows, first)
    pairs: Ints = np.column_stack([solid.body[item[first]], solid.body[item[second]]])
    return pairs
