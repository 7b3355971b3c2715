"""Vertices that lie so near to one another that they are meant to be one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._edges import edge_table

if TYPE_CHECKING:
    from trajplan.arrays import Ints, Vec3s
    from trajplan.bone._edges import EdgeTable

__all__ = ["NEAR", "near_borders", "weld", "weld_borders"]

#: Vertices nearer than this, mm, are meant to be one: well above what single precision loses
#: on a bone (3e-5), well below what a segmentation can resolve (0.1).
NEAR = 1e-3


def weld(vertices: Vec3s, which: Ints) -> Ints:
    """Find, for each vertex, the one that stands for all that lie near it.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions; they are not moved.
    which : (k,) int array
        Rows that may be joined with one another; every other row stands for itself.

    Returns
    -------
    (v,) int array
        Least row of each chain of vertices of which each lies within `NEAR` of the next.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    stands = np.arange(len(vertices))
    which = np.sort(which)
    pairs = cKDTree(vertices[which]).query_pairs(NEAR, output_type="ndarray")
    if len(pairs) == 0:
        return stands
    count = len(which)
    links = coo_array((np.ones(len(pairs), dtype=np.int8), tuple(pairs.T)), shape=(count, count))
    label = connected_components(links, directed=False)[1]
    _, first = np.unique(label, return_index=True)
    stands[which] = which[first[label]]
    return stands


def weld_borders(vertices: Vec3s, faces: Ints) -> Ints:
    """Let faces share the vertices at open edges that lie near one another.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions; they are not moved.
    faces : (f, 3) int array
        Rows of `vertices`.

    Returns
    -------
    (f, 3) int array
        The same faces, of fewer different vertices.
    """
    edges = edge_table(faces)
    border = edges.counts() == 1
    if not border.any():
        return faces
    return weld(vertices, np.unique([edges.low[border], edges.high[border]]))[faces]


def near_borders(vertices: Vec3s, edges: EdgeTable) -> tuple[Ints, Ints]:
    """Pairs of faces whose open edges lie on one another within `NEAR`.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    edges : EdgeTable
        Edges of the faces.

    Returns
    -------
    first, second : (p,) int arrays
        Faces.
    """
    border = np.flatnonzero(edges.counts() == 1)
    low, high = edges.low[border], edges.high[border]
    stands = weld(vertices, np.unique([low, high]))
    ends = np.sort([stands[low], stands[high]], axis=0)
    order = np.lexsort(ends)
    same = np.flatnonzero((np.diff(ends[:, order], axis=1) == 0).all(axis=0))
    face = edges.face[edges.offsets[:-1][border[order]]]
    return face[same], face[same + 1]
