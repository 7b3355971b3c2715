"""Joints and structures that a case names, read and made ready to be kept clear of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.bone import group_surface, read_surface, surface_around
from trajplan.checks import as_obstacle
from trajplan.errors import CaseError
from trajplan.geometry import fit_plane
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from trajplan.arrays import Vec3
    from trajplan.bone import Surface
    from trajplan.checks import Obstacle
    from trajplan.files import Avoid, Case, Joint

__all__ = ["MeshUse", "joint_plane", "obstacles_of"]


@dataclass(frozen=True, slots=True, eq=False)
class MeshUse:
    """A mesh that a plan rests on."""

    role: str
    surface: Surface
    cautions: tuple[str, ...]


def obstacles_of(
    case: Case, surface: Surface, whole: Surface
) -> tuple[tuple[Obstacle, ...], tuple[MeshUse, ...]]:
    """Joints and structures that a case names.

    Parameters
    ----------
    case : Case
        The case.
    surface : Surface
        The bone's file, whose groups may be named.
    whole : Surface
        The whole bone, on any fragment of which points are picked.

    Returns
    -------
    obstacles : tuple of Obstacle
        Joints first.
    meshes : tuple of MeshUse
        Those that were read for them.

    Raises
    ------
    InputError
        If a mesh cannot be read, or a group is not there.
    """
    obstacles: list[Obstacle] = []
    meshes: list[MeshUse] = []
    named: list[tuple[Literal["joint", "avoid"], Joint | Avoid]] = [
        *(("joint", joint) for joint in case.joints),
        *(("avoid", avoid) for avoid in case.avoids),
    ]
    for role, what in named:
        if what.mesh is not None:
            patch = read_surface(case.resolve(what.mesh), case.unit)
        elif what.points is not None:
            points = MM_PER_UNIT[case.unit] * np.array(what.points)
            patch = surface_around(whole, points, what.radius or 0.0)
        else:
            patch = group_surface(surface, what.group or "")
        made = as_obstacle(what.name, role, patch, what.clearance)
        obstacles.append(made)
        if what.mesh is not None:
            meshes.append(MeshUse(role, patch, _told(made)))
    return tuple(obstacles), tuple(meshes)


def _told(obstacle: Obstacle) -> tuple[str, ...]:
    """What a plan says of the mesh of a joint or a structure that is not whole."""
    if obstacle.missing is None:
        return ()
    said = f"{obstacle.name} {obstacle.missing.said}: what is missing is not known"
    return (f"{said}; export it whole",)


def joint_plane(case: Case, obstacles: tuple[Obstacle, ...], name: str | None) -> Vec3 | None:
    """Normal of the plane fitted to a joint surface.

    Parameters
    ----------
    case : Case
        The case.
    obstacles : tuple of Obstacle
        What it names.
    name : str or None
        The joint; "joint" names the only one.

    Returns
    -------
    (3,) float array or None
        None without a name.

    Raises
    ------
    CaseError
        If there is no such joint.
    """
    if name is None:
        return None
    joints = [obstacle for obstacle in obstacles if obstacle.role == "joint"]
    named = [o for o in joints if o.name == name or (name == "joint" and len(joints) == 1)]
    if not named:
        there = ", ".join(f'"{joint.name}"' for joint in joints) or "none"
        raise CaseError(
            f'there is no joint "{name}" to run parallel to',
            remedy=f"name one of the joints of the case ({there})",
            file=case.file,
            where="parallel_to",
        )
    surface = named[0].surface
    return fit_plane(surface.vertices[np.unique(surface.faces)]).plane.normal
