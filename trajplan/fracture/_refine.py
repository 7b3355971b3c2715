"""Dividing triangles until no edge is long, neighbours alike, and only where it is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Bools, Floats, Ints, Vec3s

    Wanted = Callable[[Floats, Ints], Bools]

__all__ = ["long_edges", "refine"]

#: The three parts of a triangle 0 1 2 with midpoints 3 (of edge 0 1) and 4 (of edge 1 2), the
#: two with midpoint 3 alone, and the four with all midpoints (5 of edge 2 0).
_TWO = np.array([[3, 1, 4], [0, 3, 4], [0, 4, 2]])
_ONE = np.array([[0, 3, 2], [3, 1, 2]])
_ALL = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])


def refine(
    vertices: Vec3s, faces: Ints, longest: float, wanted: Wanted | None = None
) -> tuple[Floats, Ints, Ints]:
    """Halve edges until none is longer than a limit.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    faces : (f, 3) int array
        Triangles.
    longest : float, mm
        Limit, above zero.
    wanted : callable, optional
        Given triangles (k, 3, 3) that have a long edge, and the given face that each is part
        of, tells which are worth dividing: the others are dropped. It is asked before every
        round, so that what is dropped is never divided further.

    Returns
    -------
    vertices : (w, 3) float array, mm
        The given ones first.
    faces : (g, 3) int array
        The surface is the same but for what was dropped, and stays as closed as it was: an
        edge is halved for all its faces alike.
    source : (g,) int array
        The given face that each came from.
    """
    points = np.array(vertices)
    source = np.arange(len(faces))
    while True:
        long = long_edges(points[faces], longest)
        if wanted is not None:
            some, kept = np.flatnonzero(long.any(axis=1)), np.ones(len(faces), dtype=np.bool_)
            kept[some] = wanted(points[faces[some]], source[some])
            faces, source, long = faces[kept], source[kept], long[kept]
        if not long.any():
            return points, faces, source
        tail, head = faces, np.roll(faces, -1, axis=1)
        key = np.minimum(tail, head)[long] * len(points) + np.maximum(tail, head)[long]
        halved, number = np.unique(key, return_inverse=True)
        middle = np.full(faces.shape, -1)
        middle[long] = len(points) + number
        ends = np.stack(np.divmod(halved, len(points)), axis=1)
        points = np.concatenate([points, points[ends].mean(axis=1)])
        faces, parent = _divided(faces, middle)
        source = source[parent]


def long_edges(triangles: Floats, longest: float) -> Bools:
    """Tell which edges are longer than a limit.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners.
    longest : float, mm
        Limit.

    Returns
    -------
    (f, 3) bool array
        From each corner to the next.
    """
    way = triangles - np.roll(triangles, -1, axis=1)
    long: Bools = np.linalg.norm(way, axis=2) > longest
    return long


def _divided(faces: Ints, middle: Ints) -> tuple[Ints, Ints]:
    """Parts of every face, given the midpoint of each edge (-1: stays), and their parents."""
    count = (middle >= 0).sum(axis=1)
    # turned so that the lone halved edge comes first, or the lone whole edge last
    odd = np.where(count[:, None] == 1, middle >= 0, middle < 0).argmax(axis=1)
    first = np.where(count == 1, odd, np.where(count == 2, odd + 1, 0))
    turn = (first[:, None] + np.arange(3)) % 3
    row = np.arange(len(faces))[:, None]
    corners = np.concatenate([faces[row, turn], middle[row, turn]], axis=1)
    parts = [faces[count == 0]]
    parents = [np.flatnonzero(count == 0)]
    for many, pattern in ((1, _ONE), (2, _TWO), (3, _ALL)):
        rows: Bools = count == many
        parts.append(corners[rows][:, pattern].reshape(-1, 3))
        parents.append(np.repeat(np.flatnonzero(rows), len(pattern)))
    return np.concatenate(parts), np.concatenate(parents)
