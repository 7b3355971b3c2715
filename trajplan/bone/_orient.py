"""Faces made to agree on which side is out, for questions that need it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._edges import three_corners
from trajplan.bone._libigl import turned_alike
from trajplan.bone._weld import weld_borders

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s

__all__ = ["as_if_clean", "copies_of_faces", "oriented", "signed_volumes"]


def oriented(faces: Ints) -> Ints:
    """Turn faces so that neighbours agree, the way that most of them already do.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    (f, 3) int array
        Where three faces or more meet at an edge, each side of it is turned by itself.
    """
    turned, patch = turned_alike(faces)
    vote = np.where((turned == faces).all(axis=1), 1, -1)
    against = (np.bincount(patch, vote) < 0)[patch] & three_corners(faces)
    return np.where(against[:, None], turned[:, ::-1], turned)


def as_if_clean(vertices: Vec3s, faces: Ints) -> Ints:
    """Give faces that hang together, each once, and that agree on which side is out.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    faces : (f, 3) int array
        Rows of `vertices`, open or wound in disorder.

    Returns
    -------
    (k, 3) int array
    """
    faces = weld_borders(vertices, faces)
    return oriented(faces[three_corners(faces) & ~copies_of_faces(faces)])


def copies_of_faces(faces: Ints) -> Bools:
    """Faces that have the corners of an earlier one, whichever way round.

    Parameters
    ----------
    faces : (f, k) int array
        Rows of vertices; whatever else is to agree, as further columns.

    Returns
    -------
    (f,) bool array
    """
    corners = np.sort(faces, axis=1)
    order = np.lexsort(corners.T)
    again = np.zeros(len(faces), dtype=bool)
    again[order[1:]] = (np.diff(corners[order], axis=0) == 0).all(axis=1)
    return again


def signed_volumes(vertices: Vec3s, faces: Ints) -> Floats:
    """Signed volume between each face and the middle of the vertices' bounding box.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    faces : (f, 3) int array
        Rows of `vertices`.

    Returns
    -------
    (f,) float array, mm³
        They sum to the volume within, where the faces close and their normals point out.
    """
    points = vertices - 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    a, b, c = (points[column] for column in faces.T)
    volume: Floats = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return volume
