"""Faces of a surface that cross one another, where no inside can be told from outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._edges import edge_table

if TYPE_CHECKING:
    from collections.abc import Collection

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._bone import Bone

__all__ = ["SelfCrossings", "self_crossings"]

#: mm by which an edge must reach through a face to cross it: faces that only touch, as those
#: of fragments that fit, do not, whatever their coordinates were rounded to.
THROUGH = 1e-5
#: Edges that are looked at together; bounds the memory.
BLOCK = 100_000


@dataclass(frozen=True, slots=True, eq=False)
class SelfCrossings:
    """Where faces of a surface cross one another."""

    faces: Ints  # (k,) faces that cross another one, ascending
    points: Vec3s  # (m, 3) mm, where edges pass through faces
    bodies: bool  # some cross from one body to another

    @property
    def words(self) -> str:
        """One sentence on them, with a place and a remedy; empty where there is none."""
        if len(self.faces) == 0:
            return ""
        middle = self.points[len(self.points) // 2]
        where = "({:.1f}, {:.1f}, {:.1f})".format(*middle)
        between = ", some of them of two bodies" if self.bodies else ""
        return (
            f"{len(self.faces)} faces cross one another{between}, such as at {where}: what is bone "
            "there cannot be told, and no repair mends it; export the surface again with less "
            "smoothing, or take the right body with bone.body"
        )


def self_crossings(bone: Bone, *, fitted: Collection[tuple[int, int]] = ()) -> SelfCrossings:
    """Find the faces of a bone that cross one another.

    Parameters
    ----------
    bone : Bone
        The bone.
    fitted : collection of (int, int)
        Bodies, lower first, that were put together and whose overlap is measured by itself: that
        their faces cross is no fault of the surface.

    Returns
    -------
    SelfCrossings

    Notes
    -----
    Two triangles cross where an edge of one passes through the other. Every edge is tried
    against the faces whose boxes it meets, those left out with which it shares a corner.
    """
    table = edge_table(bone.surface.faces)
    found = [
        _through(bone, table.low[i : i + BLOCK], table.high[i : i + BLOCK], i)
        for i in range(0, len(table.low), BLOCK)
    ]
    edge, other, points = (np.concatenate(parts) for parts in zip(*found, strict=True))
    shared = table.counts()[edge]  # every face of such an edge crosses the other one
    first = np.repeat(table.offsets[edge], shared)
    one = table.face[first + np.arange(len(first)) - np.repeat(np.cumsum(shared) - shared, shared)]
    other = np.repeat(other, shared)
    body = bone.shells.body[bone.shells.of_face]
    counts = np.ones(len(one), dtype=np.bool_)
    for low, high in fitted:
        pair = np.minimum(body[one], body[other]), np.maximum(body[one], body[other])
        counts &= (pair[0] != low) | (pair[1] != high)
    points = points[np.unique(np.repeat(np.arange(len(edge)), shared)[counts])]
    one, other = one[counts], other[counts]
    crossing = np.unique(np.concatenate([one, other]))
    freeze(crossing, points)
    return SelfCrossings(crossing, points, bool((body[one] != body[other]).any()))


def _through(bone: Bone, low: Ints, high: Ints, before: int) -> tuple[Ints, Ints, Vec3s]:
    """Edges that pass through a face, that face, and where; edges are counted on."""
    vertices, faces = bone.surface.vertices, bone.surface.faces
    edge, face = bone.caster.beside(vertices[low], vertices[high], np.zeros(len(low)))
    corner = faces[face]
    apart: Bools = ((corner != low[edge, None]) & (corner != high[edge, None])).all(axis=1)
    edge, face, corner = edge[apart], face[apart], corner[apart]
    start, end = vertices[low[edge]], vertices[high[edge]]
    triangle = vertices[corner]
    normal = bone.normals[face]
    above = np.einsum("ij,ij->i", start - triangle[:, 0], normal)
    below = np.einsum("ij,ij->i", end - triangle[:, 0], normal)
    rows = np.flatnonzero(
        (np.minimum(np.abs(above), np.abs(below)) > THROUGH) & (above * below < 0.0)
    )
    share = above[rows] / (above[rows] - below[rows])
    points = start[rows] + share[:, None] * (end[rows] - start[rows])
    within = _within(points, triangle[rows], normal[rows])
    rows = rows[within]
    return before + edge[rows], face[rows], points[within]


def _within(points: Vec3s, triangles: Floats, normals: Vec3s) -> Bools:
    """Whether points in the plane of triangles lie inside, by more than `THROUGH`."""
    inside = np.ones(len(points), dtype=np.bool_)
    for i in range(3):
        a, b = triangles[:, i], triangles[:, (i + 1) % 3]
        inward = np.cross(normals, b - a)
        height = np.einsum("ij,ij->i", points - a, inward)
        inside &= height > THROUGH * np.linalg.norm(inward, axis=1)
    return inside
