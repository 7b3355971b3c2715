"""Edges of a mesh, and what hangs together by them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from trajplan.arrays import Ints

__all__ = ["edge_graph", "edges_of", "pieces_of", "sharing"]


def edges_of(faces: Ints) -> tuple[Ints, Ints]:
    """Edges of triangles, each once.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices; an edge from a vertex to itself is left out.

    Returns
    -------
    edges : (e, 2) int array
        Sorted, the lower vertex first.
    count : (e,) int array
        Sides of faces on each edge.
    """
    keys, base = _keys(faces)
    keys, count = np.unique(keys, return_counts=True)
    edges = np.stack(np.divmod(keys, base), axis=1)
    real = edges[:, 0] != edges[:, 1]
    return edges[real], count[real]


def sharing(faces: Ints) -> Ints:
    """Pairs of faces that share an edge.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    (p, 2) int array
        Of three faces on one edge, the first with the second and that with the third.
    """
    keys, _ = _keys(faces)
    order = np.argsort(keys, kind="stable")
    same = keys[order[:-1]] == keys[order[1:]]
    pairs: Ints = np.stack([order[:-1][same], order[1:][same]], axis=1) // 3
    return pairs


def edge_graph(edges: Ints, count: int) -> Any:  # noqa: ANN401 - scipy's sparse types
    """Matrix of a graph, both ways.

    Parameters
    ----------
    edges : (e, 2) int array
        Pairs of nodes.
    count : int
        Number of nodes.

    Returns
    -------
    (count, count) sparse array
        1 where an edge is.
    """
    a, b = np.concatenate([edges, edges[:, ::-1]]).T
    return coo_array((np.ones(len(a)), (a, b)), shape=(count, count)).tocsr()


def pieces_of(edges: Ints, count: int) -> Ints:
    """Connected piece of each of a number of nodes.

    Parameters
    ----------
    edges : (e, 2) int array
        Pairs of nodes.
    count : int
        Number of nodes.

    Returns
    -------
    (count,) int array
    """
    _, piece = connected_components(edge_graph(edges, count), directed=False)
    return piece.astype(np.int64)


def _keys(faces: Ints) -> tuple[Ints, int]:
    """One number for each side of each face: lower vertex times base plus higher vertex."""
    other = np.roll(faces, -1, axis=1)
    base = int(faces.max(initial=0)) + 1
    keys = np.minimum(faces, other).ravel() * base + np.maximum(faces, other).ravel()
    return keys, base
