"""Heights and areas of triangles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["MIN_HEIGHT", "heights_and_areas"]

#: A face whose height is less has no area worth the name, mm: float32 files place the
#: corners of a bone no better than some 1e-5 mm.
MIN_HEIGHT = 1e-6


def heights_and_areas(vertices: Vec3s, faces: Ints) -> tuple[Floats, Floats]:
    """Least height and area of every face.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    faces : (f, 3) int array
        Rows of `vertices`.

    Returns
    -------
    heights : (f,) float array, mm
        0 where all corners coincide.
    areas : (f,) float array, mm²
    """
    a, b, c = (vertices[column] for column in faces.T)
    double = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    longest = np.sqrt(
        np.max([np.einsum("ij,ij->i", side, side) for side in (b - a, c - b, a - c)], axis=0)
    )
    heights: Floats = double / np.where(longest > 0.0, longest, 1.0)
    return heights, 0.5 * double
