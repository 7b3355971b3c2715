"""A fracture from its own surface, an open patch of triangles."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.bone import SurfaceDistance, point_distance
from trajplan.errors import CaseError, DegenerateError
from trajplan.fracture._types import Fracture
from trajplan.fracture._zones import MOST_ZONES, overhang, zones_from_patch

if TYPE_CHECKING:
    from trajplan.bone import Bone, Surface

__all__ = ["fracture_from_surface"]

#: mm between patch and bone beyond which they do not belong together (assumption: a gap
#: between fragments that a screw could still close, with room to spare).
FAR_PATCH = 5.0


def fracture_from_surface(
    bone: Bone,
    surface: Surface,
    source: Literal["mesh", "group"] = "mesh",
    *,
    most: int = MOST_ZONES,
    thread: float | None = None,
) -> Fracture:
    """Take an open patch of triangles for the fracture.

    Parameters
    ----------
    bone : Bone
        The bone.
    surface : Surface
        The fracture surface, in the bone's frame.
    source : {"mesh", "group"}
        Where it came from: a file of its own, or a group of the bone's file.
    most : int
        Zones at most; 1 takes the whole patch for one plane.
    thread : float, mm, optional
        Thread diameter of the smallest screw, against which zones are held.

    Returns
    -------
    Fracture
        One zone for a flat patch, else as few planar zones as will do: see
        `zones_from_patch`.

    Raises
    ------
    CaseError
        If the patch has no area or shape for a plane, or lies away from the bone.
    """
    corners = surface.triangles()
    if not np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).any():
        raise CaseError(
            "the fracture surface has no area",
            remedy="export it again with its triangles",
            file=surface.name,
            where=f"fracture.{source}",
        )
    _must_touch(bone, surface, source)
    try:
        zones, cautions = zones_from_patch(bone, surface, most=most, thread=thread)
    except DegenerateError as error:
        raise CaseError(
            f"the fracture surface defines no plane: {error}",
            remedy="give a patch that spans the fracture",
            file=surface.name,
            where=f"fracture.{source}",
        ) from error
    return Fracture(source, zones, (*cautions, *overhang(bone, zones)))


def _must_touch(bone: Bone, surface: Surface, source: str) -> None:
    points = surface.vertices[np.unique(surface.faces)]
    away = float(point_distance(SurfaceDistance.of(bone.surface), points).min())
    if away > FAR_PATCH:
        raise CaseError(
            f"the fracture surface lies {away:.1f} mm away from the bone",
            remedy="check that unit and frame of both are the same",
            file=surface.name,
            where=f"fracture.{source}",
        )
