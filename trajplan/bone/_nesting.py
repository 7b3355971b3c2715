"""Which closed shells lie around which shells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone._types import Surface

__all__ = ["nest"]

#: Faces of the inner shell whose middles are tried, spread over it. One would do for
#: shells that do not meet; many tell a piece pressed half into another from a hollow.
SAMPLES = 256
#: Points whose winding number is no further from 0.5 may lie on the outer shell, and say
#: nothing of shells that touch.
DECISIVE = 0.4


def nest(surface: Surface, of_face: Ints, closed: Bools, wound: Bools) -> tuple[Ints, Ints]:
    """Count the closed shells around each shell.

    Parameters
    ----------
    surface : Surface
        The surface.
    of_face : (f,) int array
        Shell of each face.
    closed, wound : (s,) bool arrays
        Which shells are closed, and which are consistently wound.

    Returns
    -------
    nesting : (s,) int array
        Number of closed shells around each; shells that touch or cross do not count.
    body : (s,) int array
        Number of the outermost shell that each belongs to, counted from 0.
    """
    count = len(closed)
    nesting = np.zeros(count, dtype=np.int64)
    if count == 1:
        return nesting, np.zeros(1, dtype=np.int64)
    pieces = np.split(np.argsort(of_face, kind="stable"), np.cumsum(np.bincount(of_face))[:-1])
    low, high = _boxes(surface, pieces)
    held_by: dict[int, Ints] = {}
    for outer in np.flatnonzero(closed):
        inside = (low >= low[outer]).all(axis=1) & (high <= high[outer]).all(axis=1)
        inside[outer] = False
        inner = np.flatnonzero(inside)
        if len(inner):
            faces = surface.faces[pieces[outer]]
            around = surface.vertices[faces if wound[outer] else _oriented(faces)]
            middles = [_middles(surface, pieces[shell]) for shell in inner]
            held_by[int(outer)] = inner[_held(around, middles)]
            nesting[held_by[int(outer)]] += 1
    return nesting, _bodies(nesting, held_by)


def _bodies(nesting: Ints, held_by: dict[int, Ints]) -> Ints:
    root = np.arange(len(nesting))
    for outer, held in reversed(held_by.items()):
        if nesting[outer] == 0:
            root[held] = outer
    body: Ints = np.unique(root, return_inverse=True)[1].astype(np.int64)
    return body


def _boxes(surface: Surface, pieces: list[Ints]) -> tuple[Floats, Floats]:
    """Least and greatest corner of each piece, (s, 3) each."""
    corners = surface.vertices[surface.faces[np.concatenate(pieces)]]
    start = offsets_of([len(piece) for piece in pieces])[:-1]
    low: Floats = np.minimum.reduceat(corners.min(axis=1), start)
    high: Floats = np.maximum.reduceat(corners.max(axis=1), start)
    return low, high


def _middles(surface: Surface, piece: Ints) -> Floats:
    """Middles of some faces, evenly spread over their order."""
    some = piece[:: max(1, len(piece) // SAMPLES)]
    middles: Floats = surface.vertices[surface.faces[some]].mean(axis=1)
    return middles


def _oriented(faces: Ints) -> Ints:
    """Turn faces so that neighbours agree; their winding number is of no use otherwise."""
    import igl

    turned: Ints = igl.bfs_orient(faces)[0]
    return turned


def _held(around: Floats, middles: list[Floats]) -> Bools:
    """Whether the points of each group lie within closed triangles ``(f, 3, 3)``."""
    import igl

    soup = np.arange(3 * len(around)).reshape(-1, 3)
    winding = igl.fast_winding_number(around.reshape(-1, 3), soup, np.concatenate(middles))
    beyond = np.abs(winding) - 0.5
    start = offsets_of([len(group) for group in middles])[:-1]
    any_in: Bools = np.logical_or.reduceat(beyond > DECISIVE, start)
    any_out: Bools = np.logical_or.reduceat(beyond < -DECISIVE, start)
    return any_in & ~any_out
