"""Triangles near many points, by size: one huge triangle must not drag in all small ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["SizeClass", "candidate_pairs", "size_classes"]

#: Radii within one class differ by no more than this factor.
CLASS_FACTOR = 4.0
#: Pairs of a point and a triangle held at once: about 400 bytes each in the exact formula.
PAIRS = 250_000


@dataclass(frozen=True, slots=True, eq=False)
class SizeClass:
    """Triangles of like size."""

    centres: cKDTree  # of the centroids
    faces: Ints  # (k,) number of each triangle
    radii: Floats  # (k,) mm, centroid to the farthest corner
    largest: float  # mm


def size_classes(triangles: Floats) -> tuple[SizeClass, ...]:
    """Sort triangles by size and build a tree of each class.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners; at least one triangle.

    Returns
    -------
    tuple of SizeClass
    """
    centre = triangles.mean(axis=1)
    radius = np.linalg.norm(triangles - centre[:, None], axis=2).max(axis=1)
    top = max(float(radius.max()), np.finfo(float).tiny)
    with np.errstate(divide="ignore"):
        level = np.log(top / radius) / np.log(CLASS_FACTOR)
    level = np.minimum(level, 24.0).astype(np.int64)  # a point for a triangle: the last class
    classes = []
    for number in np.unique(level):
        faces = np.flatnonzero(level == number)
        radii = radius[faces]
        classes.append(SizeClass(cKDTree(centre[faces]), faces, radii, float(radii.max())))
    return tuple(classes)


def candidate_pairs(
    classes: tuple[SizeClass, ...], middle: Vec3s, half: Vec3s, reach: Floats
) -> Iterator[tuple[Ints, Ints]]:
    """Pairs of a short segment and a triangle whose distance may be within a reach.

    Parameters
    ----------
    classes : tuple of SizeClass
        The triangles.
    middle, half : (m, 3) float arrays, mm
        Middle of each segment, and the vector from there to its end.
    reach : (m,) float array, mm
        Distance that matters for each segment.

    Yields
    ------
    segment, face : (k,) int arrays
        In blocks of bounded size, every pair in which the triangle's bounding sphere
        comes within reach of the segment.
    """
    length = np.linalg.norm(half, axis=1)
    unit = half / np.where(length > 0.0, length, 1.0)[:, None]
    for group in classes:
        ball = reach + length + group.largest
        count = group.centres.query_ball_point(middle, ball, return_length=True)
        block = np.cumsum(count) // PAIRS
        for number in np.unique(block[count > 0]):
            rows = np.flatnonzero((block == number) & (count > 0))
            found = group.centres.query_ball_point(middle[rows], ball[rows])
            row = np.repeat(rows, count[rows])
            local = np.concatenate(found).astype(np.int64)
            arm = group.centres.data[local] - middle[row]
            along = np.einsum("ij,ij->i", arm, unit[row])
            beyond = np.abs(along) - length[row]
            square = np.einsum("ij,ij->i", arm, arm) - along**2 + np.maximum(beyond, 0.0) ** 2
            near = square <= (reach[row] + group.radii[local]) ** 2
            yield row[near], group.faces[local[near]]
