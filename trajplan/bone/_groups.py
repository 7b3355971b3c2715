"""Named parts of a surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.arrays import freeze
from trajplan.bone._types import Surface
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from trajplan.arrays import Ints, Vec3s

__all__ = ["group_surface", "surface_around"]


def group_surface(surface: Surface, name: str) -> Surface:
    """Take a named group or object out of a surface, as a surface of its own.

    Parameters
    ----------
    surface : Surface
        A surface whose file names groups.
    name : str
        Name of the group.

    Returns
    -------
    Surface
        Only the vertices that its faces use.

    Raises
    ------
    MeshError
        If there is no such group, or it has no faces.
    """
    if name not in surface.groups or len(surface.groups[name]) == 0:
        there = ", ".join(surface.groups) or "none"
        raise MeshError(
            f'no faces are in a group named "{name}"',
            remedy=f"name one of the groups of the file ({there})",
            file=surface.name,
        )
    return _part(surface, surface.groups[name], name)


def surface_around(surface: Surface, points: Vec3s, radius: float) -> Surface:
    """Take the part of a surface that lies round picked points, such as a joint surface.

    Parameters
    ----------
    surface : Surface
        A surface.
    points : (k, 3) float array, mm
        Points picked on it.
    radius : float, mm
        A face belongs where a corner or its middle lies this near to a point.

    Returns
    -------
    Surface

    Raises
    ------
    MeshError
        If no face lies near any point.
    """
    tree = cKDTree(points)
    near = np.asarray(tree.query(surface.vertices)[0]) <= radius
    inside = np.asarray(tree.query(surface.triangles().mean(axis=1))[0]) <= radius
    faces = np.flatnonzero(near[surface.faces].any(axis=1) | inside)
    if len(faces) == 0:
        apart = float(np.min(cKDTree(surface.vertices).query(points)[0]))
        raise MeshError(
            f"no face lies within {radius:g} mm of the points; the nearest vertex is "
            f"{apart:.1f} mm away",
            remedy="pick points on the surface, or give a larger radius",
            file=surface.name,
        )
    return _part(surface, faces, "points")


def _part(surface: Surface, rows: Ints, name: str) -> Surface:
    corners = surface.faces[rows]
    used, faces = np.unique(corners, return_inverse=True)
    vertices, faces = surface.vertices[used], faces.reshape(corners.shape)
    freeze(vertices, faces)
    return Surface(
        vertices=vertices,
        faces=faces,
        groups={},
        name=f"{surface.name}:{name}",
        sha256=surface.sha256,
        merged=0,
    )
