"""Screw axes, and the bundle of parallel lines that stands for a screw's cylinder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.errors import ShapeError
from trajplan.geometry import ring_offsets

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["Axes", "bundle"]


@dataclass(frozen=True, slots=True, eq=False)
class Axes:
    """Screw axes from head to tip; build them with `Axes.along` or `Axes.between`."""

    origin: Vec3s  # (n, 3) mm
    direction: Vec3s  # (n, 3) unit, from head to tip

    def __len__(self) -> int:
        return len(self.origin)

    @classmethod
    def along(cls, origin: ArrayLike, direction: ArrayLike) -> Axes:
        """Axes through points, along directions of any length above zero.

        Parameters
        ----------
        origin : array_like, (n, 3), mm
            A point on each axis.
        direction : array_like, (n, 3)
            From head to tip.

        Returns
        -------
        Axes

        Raises
        ------
        ShapeError, DegenerateError
            If the arrays do not fit together, or a direction has no length.
        """
        points, directions = as_points(origin, "origin"), as_directions(direction, "direction")
        if points.shape != directions.shape:
            raise ShapeError("direction", f"{points.shape} like origin", directions.shape)
        return cls(points, directions)

    @classmethod
    def between(cls, start: ArrayLike, end: ArrayLike) -> Axes:
        """Axes through pairs of points, the head's side first.

        Parameters
        ----------
        start, end : array_like, (n, 3), mm
            Two points on each axis.

        Returns
        -------
        Axes

        Raises
        ------
        ShapeError, DegenerateError
            If the arrays do not fit together, or two points are equal.
        """
        first, second = as_points(start, "start"), as_points(end, "end")
        if first.shape != second.shape:
            raise ShapeError("end", f"{first.shape} like start", second.shape)
        return cls.along(first, second - first)

    def at(self, depth: Floats) -> Vec3s:
        """Points at a depth along each axis.

        Parameters
        ----------
        depth : (n,) float array, mm
            Depth from the origin.

        Returns
        -------
        (n, 3) float array, mm
        """
        return self.origin + depth[:, None] * self.direction

    def take(self, rows: Ints) -> Axes:
        """Some of the axes.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take, in any order.

        Returns
        -------
        Axes
        """
        return Axes(self.origin[rows], self.direction[rows])


def bundle(axes: Axes, radii: Floats, count: int, *, with_axis: bool) -> tuple[Vec3s, Vec3s]:
    """Lines parallel to each axis on one circle or several, flattened for casting.

    Parameters
    ----------
    axes : Axes
        ``n`` axes.
    radii : (n, c) float array, mm
        Radii of the ``c`` circles of each axis.
    count : int
        Lines on each circle.
    with_axis : bool
        Whether the axis itself comes first in its bundle.

    Returns
    -------
    origin, direction : (n * b, 3) float arrays
        Bundle by bundle, ``b = c * count`` lines each, one more with the axis.
    """
    n, circles = radii.shape
    repeated = np.repeat(axes.direction, circles, axis=0)
    offsets = ring_offsets(repeated, radii.ravel(), count).reshape(n, circles * count, 3)
    if with_axis:
        offsets = np.concatenate([np.zeros((n, 1, 3)), offsets], axis=1)
    origin = (axes.origin[:, None] + offsets).reshape(-1, 3)
    return origin, np.repeat(axes.direction, offsets.shape[1], axis=0)
