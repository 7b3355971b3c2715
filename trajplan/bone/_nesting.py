"""Which shells lie around which shells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of
from trajplan.bone._libigl import WindingTree
from trajplan.bone._orient import as_if_clean

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone._types import Surface

__all__ = ["boxes_of", "faces_of_shells", "nest", "some_middles"]

#: Faces of the inner shell whose middles are tried, spread over it. One would do for
#: shells that do not meet; many tell a piece pressed half into another from a hollow.
SAMPLES = 256
#: Faces without which a shell holds nothing: a tetrahedron that lacks one.
FEWEST = 3
#: Points whose winding number is no further from 0.5 may lie on the outer shell, and say
#: nothing of shells that touch.
DECISIVE = 0.4


def nest(surface: Surface, of_face: Ints, sound: Bools, original: Ints) -> tuple[Ints, Ints]:
    """Count the shells around each shell.

    Parameters
    ----------
    surface : Surface
        The surface.
    of_face : (f,) int array
        Shell of each face.
    sound : (s,) bool array
        Which shells are closed and consistently wound; the others are judged by what they
        would be if their normals agreed and their holes were small.
    original : (s,) int array
        Shell that each one is a copy of, itself where it is none.

    Returns
    -------
    nesting : (s,) int array
        Number of shells around each; shells that touch or cross do not count, nor do
        copies. A copy has the number of its original.
    body : (s,) int array
        Number of the outermost shell that each belongs to, counted from 0.
    """
    count = len(sound)
    nesting = np.zeros(count, dtype=np.int64)
    if count == 1:
        return nesting, np.zeros(1, dtype=np.int64)
    rows = faces_of_shells(of_face)
    low, high = boxes_of(surface, rows)
    single = original == np.arange(count)
    held_by: dict[int, Ints] = {}
    for outer in np.flatnonzero(single & (np.bincount(of_face) >= FEWEST)):
        inside = single & (low >= low[outer]).all(axis=1) & (high <= high[outer]).all(axis=1)
        inside[outer] = False
        inner = np.flatnonzero(inside)
        if len(inner):
            faces = surface.faces[rows[outer]]
            if not sound[outer]:
                faces = as_if_clean(surface.vertices, faces)
            around = surface.vertices[faces]
            middles = [some_middles(surface, rows[shell]) for shell in inner]
            held_by[int(outer)] = inner[_held(around, middles)]
            nesting[held_by[int(outer)]] += 1
    return nesting[original], _bodies(nesting, held_by, original)


def _bodies(nesting: Ints, held_by: dict[int, Ints], original: Ints) -> Ints:
    root = np.arange(len(nesting))
    for outer, held in reversed(held_by.items()):
        if nesting[outer] == 0:
            root[held] = outer
    body: Ints = np.unique(root[original], return_inverse=True)[1].astype(np.int64)
    return body


def faces_of_shells(of_face: Ints) -> list[Ints]:
    """Faces of each shell.

    Parameters
    ----------
    of_face : (f,) int array
        Shell of each face.

    Returns
    -------
    list of (k,) int array
    """
    return np.split(np.argsort(of_face, kind="stable"), np.cumsum(np.bincount(of_face))[:-1])


def boxes_of(surface: Surface, rows: list[Ints]) -> tuple[Floats, Floats]:
    """Bounding box of each shell.

    Parameters
    ----------
    surface : Surface
        The surface.
    rows : list of (k,) int array
        Faces of each shell.

    Returns
    -------
    low, high : (s, 3) float arrays, mm
    """
    corners = surface.vertices[surface.faces[np.concatenate(rows)]]
    start = offsets_of([len(some) for some in rows])[:-1]
    low: Floats = np.minimum.reduceat(corners.min(axis=1), start)
    high: Floats = np.maximum.reduceat(corners.max(axis=1), start)
    return low, high


def some_middles(surface: Surface, rows: Ints) -> Floats:
    """Middles of some faces, evenly spread over their order.

    Parameters
    ----------
    surface : Surface
        The surface.
    rows : (k,) int array
        Faces of one shell.

    Returns
    -------
    (n, 3) float array, mm
        Of at most 2 * `SAMPLES` faces.
    """
    some = rows[:: max(1, len(rows) // SAMPLES)]
    middles: Floats = surface.vertices[surface.faces[some]].mean(axis=1)
    return middles


def _held(around: Floats, middles: list[Floats]) -> Bools:
    """Whether the points of each group lie within closed triangles ``(f, 3, 3)``."""
    soup = np.arange(3 * len(around)).reshape(-1, 3)
    winding = WindingTree(around.reshape(-1, 3), soup).number(np.concatenate(middles))
    beyond = np.abs(winding) - 0.5
    start = offsets_of([len(group) for group in middles])[:-1]
    any_in: Bools = np.logical_or.reduceat(beyond > DECISIVE, start)
    any_out: Bools = np.logical_or.reduceat(beyond < -DECISIVE, start)
    return any_in & ~any_out
