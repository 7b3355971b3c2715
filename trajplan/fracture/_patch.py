"""A fracture from its own surface, an open patch of triangles."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from trajplan.bone import SurfaceDistance, make_caster, point_distance
from trajplan.errors import CaseError, DegenerateError
from trajplan.fracture._cautions import fit_cautions
from trajplan.fracture._fits import plane_fit
from trajplan.fracture._section import cut, polygons_of
from trajplan.fracture._types import Fracture, Zone
from trajplan.geometry import fit_plane, to_plane

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.bone import Bone, Surface
    from trajplan.geometry import FittedPlane, Plane

__all__ = ["fracture_from_surface"]

#: mm between patch and bone beyond which they do not belong together (assumption: a gap
#: between fragments that a screw could still close, with room to spare).
FAR_PATCH = 5.0
#: Share of the patch that may lie off its plane, or outside the bone, before it is said.
SAID_SHARE = 0.05


def fracture_from_surface(
    bone: Bone, surface: Surface, source: Literal["mesh", "group"] = "mesh"
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

    Returns
    -------
    Fracture
        One zone. Its plane is fitted to the vertices, each weighted with a third of the
        area of its triangles; its region is the shadow of the triangles on the plane, its
        area their own, and screws are taken to cross the patch itself.

    Raises
    ------
    CaseError
        If the patch has no area or shape for a plane, or lies away from the bone.
    """
    used, faces = np.unique(surface.faces, return_inverse=True)
    points, faces = surface.vertices[used], faces.reshape(-1, 3)
    area = _areas(points[faces])
    if not area.sum() > 0.0:
        raise CaseError(
            "the fracture surface has no area",
            remedy="export it again with its triangles",
            file=surface.name,
            where=f"fracture.{source}",
        )
    _must_touch(bone, points, surface.name, source)
    weights = np.zeros(len(points))
    np.add.at(weights, faces.ravel(), np.repeat(area / 3.0, 3))
    try:
        fitted = fit_plane(points, weights, _edges(faces))
    except DegenerateError as error:
        raise CaseError(
            f"the fracture surface defines no plane: {error}",
            remedy="give a patch that spans the fracture",
            file=surface.name,
            where=f"fracture.{source}",
        ) from error
    region = _shadow(to_plane(fitted.plane, points)[faces])
    fit = plane_fit(fitted, points, weights, region)
    zone = Zone("Z1", fit, region, float(area.sum()), surface, make_caster(surface.triangles()))
    cautions = (
        *_off_plane(fitted, weights),
        *fit_cautions(fit),
        *_overhang(bone, fitted.plane, region),
    )
    return Fracture(source, (zone,), cautions)


def _areas(triangles: Floats) -> Floats:
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    areas: Floats = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return areas


def _edges(faces: Ints) -> Ints:
    """Pairs of vertices that share an edge, each once."""
    pairs = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    return np.unique(np.sort(pairs, axis=1), axis=0)


def _must_touch(bone: Bone, points: Floats, name: str, source: str) -> None:
    away = float(point_distance(SurfaceDistance.of(bone.surface), points).min())
    if away > FAR_PATCH:
        raise CaseError(
            f"the fracture surface lies {away:.1f} mm away from the bone",
            remedy="check that unit and frame of both are the same",
            file=name,
            where=f"fracture.{source}",
        )


def _shadow(triangles: Floats) -> MultiPolygon:
    """Union of triangles in the plane."""
    rings = np.concatenate([triangles, triangles[:, :1]], axis=1)
    shadows = shapely.polygons(rings)
    solid = shapely.area(shadows) > 0.0
    return MultiPolygon(polygons_of(shapely.unary_union(shadows[solid])))


def _off_plane(fitted: FittedPlane, weights: Floats) -> list[str]:
    share = float(weights[~fitted.inliers].sum() / weights.sum())
    if share <= SAID_SHARE:
        return []
    largest = float(np.abs(fitted.heights).max())
    sentence = (
        f"{100 * share:.0f} % of the fracture surface lies off the plane of the rest, by up to "
        f"{largest:.1f} mm, and did not count for the normal."
    )
    return [sentence]


def _overhang(bone: Bone, plane: Plane, region: MultiPolygon) -> list[str]:
    """Say where a patch covers more than bone: beyond its surface, or its canal."""
    section = cut(bone.surface, bone.shells, plane)
    filled = shapely.union_all([Polygon(part.exterior) for part in section.parts])
    outside = float(region.difference(filled).area / region.area)
    hollow = float(region.intersection(filled.difference(shapely.union_all(section.parts))).area)
    lines = []
    if outside > SAID_SHARE:
        lines.append(
            f"{100 * outside:.0f} % of the fracture surface lies outside the bone where its plane "
            "cuts it; distances to the fracture line are taken from the rim of the surface."
        )
    if hollow > SAID_SHARE * region.area:
        lines.append(
            f"The fracture surface spans the canal: {hollow:.0f} mm² of it are marrow, not bone."
        )
    return lines
