"""A fracture from a plane, or from points picked on it: the region is the bone's section."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import MultiPolygon, Point, Polygon, contains_xy
from shapely.geometry.polygon import orient

from trajplan.arrays import as_points, freeze
from trajplan.bone import Gap, SurfaceDistance, gaps, point_distance
from trajplan.errors import CaseError, GeometryError
from trajplan.fracture._cautions import count_of, fit_cautions
from trajplan.fracture._fits import exact_fit, plane_fit
from trajplan.fracture._normals import units
from trajplan.fracture._rim import outer_lines
from trajplan.fracture._section import cut
from trajplan.fracture._types import Fracture, Zone
from trajplan.geometry import Plane, fit_plane, from_plane, to_plane

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Vec3, Vec3s
    from trajplan.bone import Bone
    from trajplan.geometry import FittedPlane

__all__ = ["fracture_from_plane", "fracture_from_points"]

#: mm from the bone's surface beyond which a picked point is doubtful (assumption: twice the
#: wall of a shaft; a pick on the fracture line lies on the surface itself).
FAR_POINT = 10.0
#: Degrees; points that know the normal no better (95 % bound) fix no plane (assumption: twice
#: the tilt at which fragments slide, so that nothing can be said of any screw).
UNKNOWN_NORMAL = 45.0
#: Points that any plane fits without residual, so that they tell no bound; they are cautioned.
LEAST_POINTS = 3
#: mm across which points must be spread at the least: picks err by about a millimetre
#: (assumption), and on a narrower strip that alone may turn the plane by 45 degrees.
NARROW = 2.0
#: Places along each side of what lies between two parts of a section, and the share of them that
#: must be canal: where it opens at an end, that cannot be told (assumption).
PROBES, MOST = 9, 0.5
#: mm; an opening of the section no wider than this is a crack of the mesh, not worth a word.
SAID_GAP = 0.05
#: mm; a plane that comes nearer to the bone than this touches it, as numbers are written.
TOUCHES = 0.05
#: mm; a plane with no more bone than this on one side only touches it.
TOUCH = 1e-6


def fracture_from_plane(bone: Bone, point: ArrayLike, normal: ArrayLike) -> Fracture:
    """Take a plane through a bone for its fracture.

    Parameters
    ----------
    bone : Bone
        The bone.
    point : array_like, (3,), mm
        A point of the plane, in or near the part of the bone that is meant.
    normal : array_like, (3,)
        Normal of the plane, of any length above zero.

    Returns
    -------
    Fracture
        One zone, whose region is the bone's true cross-section with the canal cut out.
        Of several parts it is the one that holds `point`, or the nearest to it, with those
        across an open canal from it: a shaft split lengthwise has two walls.

    Raises
    ------
    CaseError
        If the plane misses the bone, or the normal is zero.
    """
    try:
        plane = Plane.through(point, normal)
    except GeometryError as error:
        raise CaseError(
            f"the fracture plane is no plane: {error}",
            remedy="give a point and a normal of three finite numbers, the normal not zero",
            where="fracture.plane",
        ) from error
    region, cautions = _region(bone, plane, plane.point, "fracture.plane")
    fit, rim = exact_fit(plane, region), _rim(bone, plane, region)
    zone = Zone("Z1", fit, region, float(region.area), None, rim=rim)
    return Fracture("plane", (zone,), cautions)


def fracture_from_points(bone: Bone, points: ArrayLike) -> Fracture:
    """Fit the fracture plane to points picked on the fracture line.

    Parameters
    ----------
    bone : Bone
        The bone.
    points : array_like, (n, 3), mm
        Three points or more, not on one line.

    Returns
    -------
    Fracture
        One zone, whose region is the bone's cross-section with the fitted plane.

    Raises
    ------
    CaseError
        If the points define no plane, or leave its normal unknown, or their plane misses
        the bone.
    """
    try:
        picked = as_points(points)
        fitted = fit_plane(picked)
    except GeometryError as error:
        raise CaseError(
            f"the picked points define no plane: {error}",
            remedy="pick three points or more along the fracture line, spread round the bone",
            where="fracture.points",
        ) from error
    _must_fix_a_plane(fitted, picked)
    region, cautions = _region(bone, fitted.plane, fitted.plane.point, "fracture.points")
    fit = plane_fit(fitted, picked, np.ones(len(picked)), region)
    rim = _rim(bone, fitted.plane, region)
    zone = Zone("Z1", fit, region, float(region.area), None, rim=rim)
    lines = (*_left_out(fitted.inliers), *_far_points(bone, picked), *fit_cautions(fit), *cautions)
    return Fracture("points", (zone,), lines)


def _must_fix_a_plane(fitted: FittedPlane, picked: Vec3s) -> None:
    """Refuse points that leave the normal open: on a strip, or at odds with one another."""
    flat = to_plane(fitted.plane, picked[fitted.inliers])
    flat = flat - flat.mean(axis=0)
    across = float(np.ptp(flat @ np.linalg.svd(flat, full_matrices=False)[2][1]))
    if across < NARROW:
        found = f"the picked points lie on a strip only {across:.1f} mm wide, which fixes no plane"
    elif len(picked) > LEAST_POINTS and fitted.normal_bound > UNKNOWN_NORMAL:
        found = (
            "the picked points fix no plane: its normal is known to "
            f"{fitted.normal_bound:.0f} degrees only (95 % bound)"
        )
    else:
        return
    raise CaseError(
        found,
        remedy="pick more points along the fracture line, spread round the bone",
        where="fracture.points",
    )


def _region(
    bone: Bone, plane: Plane, near: Vec3, where: str
) -> tuple[MultiPolygon, tuple[str, ...]]:
    """The cross-section's part nearest to a point, with all walls of its canal, and cautions."""
    section = cut(bone.surface, bone.shells, plane)
    height = plane.height(bone.surface.vertices)
    if not section.parts or min(height.max(), -height.min()) < TOUCH:
        raise CaseError(
            _missed(float(np.abs(height).min())),
            remedy="check the point, the normal and the unit",
            where=where,
        )
    spot = Point(to_plane(plane, near[None])[0])
    chosen = min(
        section.parts, key=lambda part: (Polygon(part.exterior).distance(spot), part.distance(spot))
    )
    walls = _walls(bone, plane, chosen, section.parts)
    cautions = []
    if len(section.parts) > len(walls):
        rest = sum(part.area for part in section.parts) - sum(wall.area for wall in walls)
        others = count_of(len(section.parts) - len(walls), "other place")
        cautions.append(
            f"The plane also cuts the bone in {others} ({rest:.0f} mm² in all); only the part "
            "nearest the given point is planned."
        )
    open_ = [gap for gap in section.gaps if gap > SAID_GAP]
    if open_:
        cautions.append(
            f"The bone surface is open where the plane cuts it: {count_of(len(open_), 'gap')}, at "
            f"most {max(open_):.1f} mm wide, closed with a straight line."
        )
    return MultiPolygon(walls), tuple(cautions)


def _walls(bone: Bone, plane: Plane, chosen: Polygon, parts: tuple[Polygon, ...]) -> list[Polygon]:
    """A part of a section, and those that lie across an open canal of the shaft from it."""
    others = (part for part in parts if part is not chosen)
    return [chosen, *(part for part in others if _across_canal(bone, plane, chosen, part))]


def _across_canal(bone: Bone, plane: Plane, one: Polygon, other: Polygon) -> bool:
    """Whether most of what lies between two parts of a section is an open canal."""
    if Polygon(one.exterior).contains(other):  # a splinter in the canal is no wall of it
        return False
    between = one.union(other).convex_hull.difference(one.union(other))
    if between.is_empty:
        return False
    low, high = np.reshape(between.bounds, (2, 2))
    x, y = np.meshgrid(*np.linspace(low, high, PROBES).T)
    inside = contains_xy(between, x.ravel(), y.ravel())
    if not inside.any():
        return False
    places = from_plane(plane, np.column_stack([x.ravel(), y.ravel()])[inside])
    found = gaps(bone, places, slit=np.zeros(len(places), dtype=np.bool_))
    return bool((found == Gap.CANAL).mean() > MOST)


def _rim(bone: Bone, plane: Plane, region: MultiPolygon) -> tuple[Vec3s, ...]:
    """Fracture line on the outside, where it is not the whole outline of a single part."""
    if len(region.geoms) == 1:
        return ()
    lines = []
    for part in region.geoms:
        ring = from_plane(plane, np.array(orient(part).exterior.coords))
        away = np.cross(np.diff(ring, axis=0), plane.normal)  # the ring runs round to the left
        lines += outer_lines(bone, ring, units(away))
    freeze(*lines)
    return tuple(lines)


def _missed(away: float) -> str:
    if away < TOUCHES:
        return "the plane only touches the bone, all of which lies on one side of it"
    return f"the plane misses the bone, whose nearest vertex lies {away:.1f} mm away from it"


def _left_out(inliers: Bools) -> list[str]:
    rows = np.flatnonzero(~inliers)
    if not len(rows):
        return []
    named = ", ".join(str(row + 1) for row in rows)
    subject = f"point {named} lies" if len(rows) == 1 else f"points {named} lie"
    return [f"Picked {subject} off the plane of the others and did not count."]


def _far_points(bone: Bone, points: Vec3s) -> list[str]:
    away = point_distance(SurfaceDistance.of(bone.surface), points)
    return [
        f"Picked point {row + 1} lies {away[row]:.1f} mm away from the bone surface."
        for row in np.flatnonzero(away > FAR_POINT)
    ]
