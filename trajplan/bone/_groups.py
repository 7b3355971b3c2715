"""Named parts of a surface."""

from __future__ import annotations

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._types import Surface
from trajplan.errors import MeshError

__all__ = ["group_surface"]


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
    corners = surface.faces[surface.groups[name]]
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
