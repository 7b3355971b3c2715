"""Shells that were stored twice: one lies on the other all over."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._libigl import element_distance
from trajplan.bone._nesting import boxes_of, faces_of_shells, some_middles

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Ints
    from trajplan.bone._types import Surface

__all__ = ["COPY_DISTANCE", "copies_of_shells"]

#: Shells nowhere further apart than this, mm, are one surface stored twice: half of what the
#: finest segmentations resolve (0.1), and no wall of a bone is as thin all round.
COPY_DISTANCE = 0.05
#: Share of a copy that must lie that near its original: each may have holes of its own.
COPY_SHARE = 0.9


def copies_of_shells(surface: Surface, of_face: Ints, closed: Bools) -> Ints:
    """Find the shells that lie on another one.

    Parameters
    ----------
    surface : Surface
        The surface.
    of_face : (f,) int array
        Shell of each face.
    closed : (s,) bool array
        Which shells are closed: of a closed and an open one, the open one is the copy.

    Returns
    -------
    (s,) int array
        The shell that each one is a copy of; itself where it is none.
    """
    original = np.arange(len(closed))
    if len(closed) == 1:
        return original
    rows = faces_of_shells(of_face)
    for first, second in _alike(surface, rows):
        kept, other = original[first], original[second]
        if kept != other and _lies_on(surface, rows, kept, other):
            if closed[other] and not closed[kept]:
                kept, other = other, kept
            original[original == other] = kept
    return original


def _alike(surface: Surface, rows: list[Ints]) -> list[tuple[int, int]]:
    """Pairs of shells of which the bounding boxes agree."""
    from scipy.spatial import cKDTree

    corners = np.hstack(boxes_of(surface, rows))
    pairs = cKDTree(corners).query_pairs(COPY_DISTANCE, p=np.inf)
    return sorted(pairs)


def _lies_on(surface: Surface, rows: list[Ints], one: int, other: int) -> bool:
    """Whether each of two shells lies on the other, but for holes, as far as samples tell."""
    for a, b in ((one, other), (other, one)):
        middles, faces = some_middles(surface, rows[a]), surface.faces[rows[b]]
        near = element_distance(middles, surface.vertices, faces) <= COPY_DISTANCE
        if near.mean() < COPY_SHARE:
            return False
    return True
