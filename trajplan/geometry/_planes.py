"""Planes, and right-handed frames built on a normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_vector, freeze

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Vec3, Vec3s

__all__ = ["Plane", "frames", "from_plane", "plane_depth", "to_plane"]

#: Sine of the angle between a line and a plane below which they count as parallel:
#: at 1e-9 a depth of 1 mm would already land a million kilometres away.
PARALLEL_SINE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """A plane by a point on it and its unit normal; build it with `Plane.through`."""

    point: Vec3  # (3,) mm
    normal: Vec3  # (3,) unit

    @classmethod
    def through(cls, point: ArrayLike, normal: ArrayLike) -> Plane:
        """Build a plane from a point and a normal of any length above zero.

        Parameters
        ----------
        point : array_like, (3,), mm
            Any point of the plane.
        normal : array_like, (3,)
            Its normal; made a unit vector.

        Returns
        -------
        Plane

        Raises
        ------
        ShapeError, DegenerateError
            If either is no vector of three finite numbers, or the normal is zero.
        """
        return cls(as_vector(point, "point"), as_directions(as_vector(normal, "normal"))[0])

    def height(self, points: Vec3s) -> Floats:
        """Signed distance of points from the plane, positive on the normal's side.

        Parameters
        ----------
        points : (..., 3) float array, mm
            Points.

        Returns
        -------
        (...) float array, mm
        """
        return (points - self.point) @ self.normal

    def basis(self) -> Floats:
        """Two unit vectors in the plane that make a right-handed frame with the normal.

        Returns
        -------
        (2, 3) float array
        """
        return frames(self.normal[None])[0, :2]


def frames(directions: Vec3s) -> Floats:
    """Right-handed orthonormal frames whose third axis is given.

    Parameters
    ----------
    directions : (n, 3) float array
        Unit vectors.

    Returns
    -------
    (n, 3, 3) float array
        Rows ``u``, ``v``, ``w`` with ``w`` the given direction.

    References
    ----------
    .. [1] Duff et al. 2017, "Building an orthonormal basis, revisited", J Comput Graph
       Tech 6(1): free of the singularity at ``w = -z``.
    """
    x, y, z = directions[:, 0], directions[:, 1], directions[:, 2]
    sign = np.copysign(1.0, z)
    a = -1.0 / (sign + z)
    b = x * y * a
    out = np.empty((len(directions), 3, 3))
    out[:, 0] = np.stack([1.0 + sign * x * x * a, sign * b, -sign * x], axis=1)
    out[:, 1] = np.stack([b, sign + y * y * a, -y], axis=1)
    out[:, 2] = directions
    return out


def plane_depth(plane: Plane, origin: Vec3s, direction: Vec3s) -> Floats:
    """Depth at which lines meet a plane.

    Parameters
    ----------
    plane : Plane
        The plane.
    origin, direction : (m, 3) float array
        A point on each line (mm) and its unit direction.

    Returns
    -------
    (m,) float array, mm
        Depth along the line from its origin, of either sign; NaN where the line runs
        parallel to the plane.
    """
    sine = direction @ plane.normal
    with np.errstate(divide="ignore", invalid="ignore"):
        depth: Floats = -plane.height(origin) / sine
    depth[np.abs(sine) < PARALLEL_SINE] = np.nan
    return depth


def to_plane(plane: Plane, points: Vec3s) -> Floats:
    """Coordinates of points in the plane's own frame (`Plane.basis`), the height dropped.

    Parameters
    ----------
    plane : Plane
        The plane.
    points : (n, 3) float array, mm
        Points.

    Returns
    -------
    (n, 2) float array, mm
    """
    return (points - plane.point) @ plane.basis().T


def from_plane(plane: Plane, coordinates: Floats) -> Vec3s:
    """Points in space of coordinates in the plane's own frame.

    Parameters
    ----------
    plane : Plane
        The plane.
    coordinates : (n, 2) float array, mm
        Coordinates as from `to_plane`.

    Returns
    -------
    (n, 3) float array, mm
    """
    points = plane.point + coordinates @ plane.basis()
    freeze(points)
    return points
