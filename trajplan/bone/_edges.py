"""Edges of a triangle mesh, and which faces continue one another across them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of, rows_of
from trajplan.geometry import frames

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Int8s, Ints, Vec3s

__all__ = ["EdgeTable", "Joints", "edge_table", "join_faces", "three_corners"]

#: Faces whose directions round an edge differ by less lie on each other, radians. Stored
#: in float32, a corner of a 1 mm triangle some 100 mm from the origin tilts it by so much.
ANGLE_TIE = 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class EdgeTable:
    """The faces at every edge, ragged; faces with a repeated corner are left out."""

    offsets: Ints  # (e + 1,)
    face: Ints  # (h,) face that has the edge
    low: Ints  # (e,) vertex of the edge with the smaller number
    high: Ints  # (e,)
    sign: Int8s  # (h,) +1 the face runs from low to high, -1 back
    apex: Ints  # (h,) third vertex of the face

    def counts(self) -> Ints:
        """Faces at every edge.

        Returns
        -------
        (e,) int array
        """
        return np.diff(self.offsets)


@dataclass(frozen=True, slots=True, eq=False)
class Joints:
    """Pairs of faces that continue one another, and faces with a flaw at an edge."""

    first: Ints  # (p,) face
    second: Ints  # (p,) face
    opened: Ints  # (q,) faces at an edge that has no unique partner
    turned: Ints  # (r,) faces whose partner disagrees on which side is out


def edge_table(faces: Ints) -> EdgeTable:
    """Collect the faces at every edge.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    EdgeTable
    """
    sound = np.flatnonzero(three_corners(faces))
    corner = faces[sound]
    tail, head = corner.T.ravel(), np.roll(corner, -1, axis=1).T.ravel()
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    key = low * (int(faces.max(initial=0)) + 1) + high
    order = np.argsort(key, kind="stable")
    key = key[order]
    begin = np.flatnonzero(np.diff(key, prepend=-1) != 0)
    return EdgeTable(
        offsets=np.append(begin, len(key)),
        face=np.tile(sound, 3)[order],
        low=low[order[begin]],
        high=high[order[begin]],
        sign=np.where(tail < head, 1, -1).astype(np.int8)[order],
        apex=np.roll(corner, -2, axis=1).T.ravel()[order],
    )


def join_faces(vertices: Vec3s, edges: EdgeTable, outward: Int8s) -> Joints:
    """Find the faces that continue one another across each edge.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    edges : EdgeTable
        Their edges.
    outward : (f,) int8 array
        +1 where normals are thought to point out of the bone, -1 where into it; used
        only at edges with three faces or more.

    Returns
    -------
    Joints

    Notes
    -----
    Two faces at an edge belong together. More do where solids touch: sorted by angle
    round the edge, each face that opens a solid wedge belongs to the next one, which must
    close it. Where opening and closing faces do not alternate, all are joined and count
    as open.
    """
    counts = edges.counts()
    start = edges.offsets[:-1]
    pair = start[counts == 2]
    first, second = edges.face[pair], edges.face[pair + 1]
    same = edges.sign[pair] == edges.sign[pair + 1]
    turned = np.concatenate([first[same], second[same]])
    opened = edges.face[start[counts == 1]]
    if not (counts > 2).any():
        return Joints(first, second, opened, turned)
    begin, end, unsure = _crowded_pairs(vertices, edges, outward)
    return Joints(
        first=np.concatenate([first, begin]),
        second=np.concatenate([second, end]),
        opened=np.concatenate([opened, unsure]),
        turned=turned,
    )


def three_corners(faces: Ints) -> Bools:
    """Faces without a repeated corner.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    (f,) bool array
    """
    a, b, c = faces.T
    three: Bools = (a != b) & (b != c) & (c != a)
    return three


def _crowded_pairs(vertices: Vec3s, edges: EdgeTable, outward: Int8s) -> tuple[Ints, Ints, Ints]:
    """Pairs at edges of three faces or more, and the faces for which none can be told."""
    edge = np.flatnonzero(edges.counts() > 2)
    sizes = edges.counts()[edge]
    offsets = offsets_of(sizes)
    row = rows_of(offsets)
    item = edges.offsets[edge][row] + np.arange(len(row)) - offsets[row]
    closes = edges.sign[item] * outward[edges.face[item]] > 0
    angle = _angles(vertices, edges, edge, item, offsets)
    # a wedge is closed before the next one opens where two faces lie on each other
    order = np.lexsort([~closes, _ties(angle, row), row])
    item, closes = item[order], closes[order]
    after = np.arange(1, len(item) + 1)
    after[offsets[1:] - 1] = offsets[:-1]
    alternates = np.logical_and.reduceat(closes != closes[after], offsets[:-1])[row]
    face = edges.face[item]
    opens = alternates & ~closes
    # the faces of an undecided edge hang together as one chain
    chained = ~alternates & (after > np.arange(len(item)))
    linked = opens | chained
    return face[linked], face[after[linked]], face[~alternates]


def _angles(vertices: Vec3s, edges: EdgeTable, edge: Ints, item: Ints, offsets: Ints) -> Floats:
    """Direction of each face round its edge, radians, 0 for the first face of the edge."""
    row = rows_of(offsets)
    origin = vertices[edges.low[edge]]
    axis = vertices[edges.high[edge]] - origin
    axis /= np.linalg.norm(axis, axis=1, keepdims=True)
    basis = frames(axis)[row]
    arm = vertices[edges.apex[item]] - origin[row]
    angle = np.arctan2(
        np.einsum("ij,ij->i", arm, basis[:, 1]), np.einsum("ij,ij->i", arm, basis[:, 0])
    )
    # the small shift keeps faces that lie on the first one from wrapping to a full turn
    turned: Floats = np.mod(angle - angle[offsets[:-1]][row] + ANGLE_TIE, 2.0 * np.pi)
    return turned


def _ties(angle: Floats, row: Ints) -> Ints:
    """Rank of each angle within its row, equal for angles that follow closely."""
    order = np.lexsort([angle, row])
    step = (np.diff(angle[order], prepend=0.0) > ANGLE_TIE) | (np.diff(row[order], prepend=-1) > 0)
    rank = np.empty(len(angle), dtype=np.int64)
    rank[order] = np.cumsum(step)
    return rank
