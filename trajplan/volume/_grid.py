"""Where the voxels of a volume lie: one frame, LPS in mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints, Vec3, Vec3s

__all__ = ["SIDES", "Grid", "grid_of"]

#: Sides of a patient in the frame of DICOM (PS3.3, C.7.6.2.1.1, number from memory): along +x,
#: +y, +z and against.
SIDES = (("right", "left"), ("front", "back"), ("lower end", "upper end"))
#: Cosine between edges of a voxel from which they count as square: 0.1 degrees.
SQUARE = float(np.sin(np.deg2rad(0.1)))


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Voxel centres of a volume; build it with `grid_of`.

    Indices are (i, j, k): i along a row, j down the columns, k through the slices, from 0.
    An array of values is in the order [k, j, i].
    """

    size: tuple[int, int, int]  # voxels along i, j, k
    matrix: Floats  # (4, 4) from (i, j, k, 1) to LPS, mm

    @property
    def shape(self) -> tuple[int, int, int]:
        """Shape of an array of values."""
        return self.size[2], self.size[1], self.size[0]

    @property
    def spacing(self) -> Vec3:
        """(3,) lengths of the edges of a voxel, mm."""
        spacing: Vec3 = np.linalg.norm(self.matrix[:3, :3], axis=0)
        return spacing

    @property
    def voxel(self) -> float:
        """Content of a voxel, mm³."""
        return abs(float(np.linalg.det(self.matrix[:3, :3])))

    @property
    def left_handed(self) -> bool:
        """Whether i, j, k turn the other way than x, y, z."""
        return bool(np.linalg.det(self.matrix[:3, :3]) < 0.0)

    @property
    def shear(self) -> float:
        """Largest departure of two edges of a voxel from a right angle, degrees."""
        edges = self.matrix[:3, :3] / self.spacing
        cosines = np.abs(np.triu(edges.T @ edges, 1))
        return float(np.rad2deg(np.arcsin(min(float(cosines.max()), 1.0))))

    @property
    def slice_axis(self) -> int:
        """Axis of i, j, k along which the voxels are longest."""
        return int(np.argmax(self.spacing))

    def points(self, index: ArrayLike) -> Vec3s:
        """Places of indices.

        Parameters
        ----------
        index : (n, 3) array_like
            i, j, k; need not be whole.

        Returns
        -------
        (n, 3) float array, LPS mm
        """
        placed: Vec3s = np.asarray(index) @ self.matrix[:3, :3].T + self.matrix[:3, 3]
        return placed

    def index(self, points: ArrayLike) -> Vec3s:
        """Indices of places.

        Parameters
        ----------
        points : (n, 3) array_like, LPS mm
            Any places.

        Returns
        -------
        (n, 3) float array
            i, j, k; those of places beyond the volume lie beyond its size.
        """
        inverse = np.linalg.inv(self.matrix[:3, :3])
        found: Vec3s = (np.asarray(points) - self.matrix[:3, 3]) @ inverse.T
        return found

    def corners(self) -> Vec3s:
        """Centres of the eight outermost voxels.

        Returns
        -------
        (8, 3) float array, LPS mm
        """
        last = np.array(self.size) - 1
        ends: Ints = np.array([[a, b, c] for a in (0, 1) for b in (0, 1) for c in (0, 1)])
        return self.points(ends * last)

    def side(self, axis: int, end: int) -> str:
        """Name a face of the volume as seen on the patient.

        Parameters
        ----------
        axis : int
            0, 1, 2 for i, j, k.
        end : int
            0 for the first voxel, 1 for the last.

        Returns
        -------
        str
            Such as ``upper end``.
        """
        edge = self.matrix[:3, axis] * (1 if end else -1)
        along = int(np.argmax(np.abs(edge)))
        return SIDES[along][int(edge[along] > 0.0)]


def grid_of(size: ArrayLike, matrix: ArrayLike) -> Grid:
    """Build a grid from plain numbers.

    Parameters
    ----------
    size : (3,) array_like of int
        Voxels along i, j, k.
    matrix : (4, 4) array_like
        From (i, j, k, 1) to LPS, mm.

    Returns
    -------
    Grid
    """
    square = np.array(matrix, dtype=np.float64)
    freeze(square)
    i, j, k = (int(count) for count in np.asarray(size))
    return Grid((i, j, k), square)
