"""Every call into libigl: nothing else imports it, so that nothing else has to guard it.

libigl is compiled and trusts what it is given: no faces, corners without a place or faces
without area make it read memory that is not its own, and it answers at random or dies. Here
such faces are left out, and questions about nothing are answered without it.

References
----------
.. [1] G. Barill, N. G. Dickson, R. Schmidt, D. I. W. Levin, A. Jacobson, "Fast winding
   numbers for soups and clouds", ACM Transactions on Graphics 37(4), 2018,
   doi:10.1145/3197517.3201337.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.bone._edges import three_corners
from trajplan.bone._heights import heights_and_areas

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["NearestTree", "WindingTree", "apart", "element_distance", "turned_alike"]

#: mm²; faces of no more area wind round nothing, and the tree divides by areas in single
#: precision, of which the least is 1e-38 (squares of this stay well above it).
LEAST_AREA = 1e-15


class WindingTree:
    """Winding numbers of points about triangles, by the fast winding number [1]_.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    faces : (f, 3) int array
        Rows of `vertices`; none at all, or only such as have no area, wind round nothing.
    """

    __slots__ = ("_middle", "_tree")

    def __init__(self, vertices: Vec3s, faces: Ints) -> None:
        used, local = np.unique(_with_area(vertices, faces), return_inverse=True)
        self._tree: Any = None
        if len(used) == 0:
            return
        from igl import FastWindingNumberBVH

        points = vertices[used]
        # the tree works in single precision: far from the origin that is a tenth of a mm
        self._middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
        self._tree = FastWindingNumberBVH()
        self._tree.init(
            np.ascontiguousarray(points - self._middle, dtype=np.float64),
            np.ascontiguousarray(local.reshape(-1, 3), dtype=np.int64),
        )

    def number(self, points: Vec3s) -> Floats:
        """How often the triangles go round each point, counted positive inside.

        Parameters
        ----------
        points : (n, 3) float array, mm
            Points.

        Returns
        -------
        (n,) float array
            NaN for a point that is nowhere.
        """
        placed = np.isfinite(points).all(axis=1)
        number = np.where(placed, 0.0, np.nan)
        if self._tree is not None and placed.any():
            query = np.ascontiguousarray(points[placed] - self._middle, dtype=np.float64)
            number[placed] = np.ravel(self._tree.winding_number(query))
        return number


class NearestTree:
    """Nearest points of a surface.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
        Positions.
    faces : (f, 3) int array
        Rows of `vertices`; a face without area stands as its longest edge, see `_distance`.
    """

    __slots__ = ("_faces", "_tree", "_vertices")

    def __init__(self, vertices: Vec3s, faces: Ints) -> None:
        self._vertices = np.ascontiguousarray(vertices, dtype=np.float64)
        self._faces = np.ascontiguousarray(faces, dtype=np.int64)
        self._tree: Any = None
        if len(faces):
            from igl import AABB

            self._tree = AABB()
            self._tree.init(self._vertices, self._faces)

    def nearest(self, points: Vec3s) -> tuple[Floats, Ints, Vec3s]:
        """Squared distance, nearest face and nearest point of each point.

        Parameters
        ----------
        points : (n, 3) float array, mm
            Finite.

        Returns
        -------
        square : (n,) float array, mm²
        face : (n,) int array
        nearest : (n, 3) float array, mm
            Where there is no face: infinite, -1 and NaN.
        """
        if len(points) == 0 or self._tree is None:
            n = len(points)
            return np.full(n, np.inf), np.full(n, -1), np.full((n, 3), np.nan)
        square, face, nearest = self._tree.squared_distance(
            self._vertices, self._faces, np.ascontiguousarray(points, dtype=np.float64)
        )
        return square, face, nearest


def element_distance(points: Vec3s, vertices: Vec3s, elements: Ints) -> Floats:
    """Distance of points to triangles or segments.

    Parameters
    ----------
    points : (n, 3) float array, mm
        Points.
    vertices : (v, 3) float array, mm
        Positions.
    elements : (e, 2) or (e, 3) int array
        Rows of `vertices`.

    Returns
    -------
    (n,) float array, mm
        Infinite where there is no element, NaN for a point that is nowhere.
    """
    placed = np.isfinite(points).all(axis=1)
    distance = np.where(placed, np.inf, np.nan)
    if len(elements) == 0 or not placed.any():
        return distance
    from igl import point_mesh_squared_distance

    square = point_mesh_squared_distance(
        np.ascontiguousarray(points[placed]),
        np.ascontiguousarray(vertices),
        np.ascontiguousarray(elements),
    )[0]
    distance[placed] = np.sqrt(square)
    return distance


def turned_alike(faces: Ints) -> tuple[Ints, Ints]:
    """Turn faces so that neighbours agree.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    turned : (f, 3) int array
        Faces with a repeated corner stay as they are.
    patch : (f,) int array
        Patches of faces that were turned together; three faces or more at an edge part them.
    """
    turned, patch = faces.copy(), np.zeros(len(faces), dtype=np.int64)
    sound = three_corners(faces)
    if not sound.any():
        return turned, patch
    from igl import bfs_orient

    turned[sound], patch[sound] = bfs_orient(np.ascontiguousarray(faces[sound]))
    return turned, patch


def apart(faces: Ints) -> tuple[Ints, Ints]:
    """Take faces apart where more than two meet at an edge, or where fans meet at a corner.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices, wound alike.

    Returns
    -------
    faces : (f, 3) int array
        The same faces, rows of new vertices.
    origin : (w,) int array
        Old vertex that each new one lies on.
    """
    if len(faces) == 0:
        return faces, np.zeros(0, dtype=np.int64)
    from igl import split_nonmanifold

    split, origin = split_nonmanifold(np.ascontiguousarray(faces))
    return np.asarray(split, dtype=np.int64), np.asarray(origin, dtype=np.int64)


def _with_area(vertices: Vec3s, faces: Ints) -> Ints:
    """Faces whose corners have a place and which have an area."""
    placed = np.isfinite(vertices[faces]).all(axis=(1, 2))
    faces = faces[placed]
    return faces[heights_and_areas(vertices, faces)[1] > LEAST_AREA]
