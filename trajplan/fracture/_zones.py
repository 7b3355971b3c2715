"""Planar zones of a fracture surface."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from trajplan.arrays import freeze
from trajplan.bone import Surface, make_caster
from trajplan.fracture._cautions import fit_cautions
from trajplan.fracture._edges import edges_of
from trajplan.fracture._fits import plane_fit
from trajplan.fracture._local import pieces_of_zones
from trajplan.fracture._parts import SAID_SHARE, Sheet, divide, left_out
from trajplan.fracture._rim import rim_of
from trajplan.fracture._section import cut, polygons_of
from trajplan.fracture._types import Zone
from trajplan.geometry import fit_plane, to_plane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone import Bone, Caster
    from trajplan.geometry import FittedPlane

__all__ = ["MOST_ZONES", "overhang", "zones_from_patch"]

#: Zones that a fracture is divided into at most (assumption: more than anybody drills).
MOST_ZONES = 12
#: A zone smaller than a disc of so many thread diameters is small for a screw (assumption: one
#: thread diameter of bone on either side of the hole).
DISC = 3.0


def zones_from_patch(
    bone: Bone | None,
    patch: Surface,
    first: int = 1,
    *,
    most: int = MOST_ZONES,
    thread: float | None = None,
) -> tuple[tuple[Zone, ...], tuple[str, ...]]:
    """Divide a fracture surface into planar zones, as few as will do.

    Parameters
    ----------
    bone : Bone, optional
        The bone; without it nothing is known of a canal, at which a rim may end.
    patch : Surface
        An open surface of triangles.
    first : int
        Number of the first zone: 1 for "Z1".
    most : int
        Zones at most; 1 takes the whole surface for one plane, curved or not.
    thread : float, mm, optional
        Thread diameter of the smallest screw: a zone smaller than a disc of three times
        that diameter is cautioned.

    Returns
    -------
    zones : tuple of Zone
        In order along the surface. Each has a plane fitted to its own vertices, weighted
        with the area round them; its region is the shadow of its own triangles; screws are
        taken to cross the whole surface, and its rim is that of the whole surface.
    cautions : tuple of str
        One sentence each; empty for a flat surface with room for a screw.

    Raises
    ------
    DegenerateError
        If the surface has no area, or lies on one line.
    ValueError
        If `most` is below 1.

    Notes
    -----
    A zone is good where it departs from its plane by no more than 1 mm root mean square and
    3 mm at most, but for 5 % of its area, and its normal turns by no more than 40 degrees
    (`turn_of`). Taken is the least number of
    zones that all are good, found by merging cells and moving seams (`best_division`). A
    surface that dividing hardly brings nearer to its planes is rough, not curved, and
    stays one zone. Where no number up to `most` will do, the least one is taken whose mean
    departure is within 25 % of the best.
    """
    if most < 1:
        raise ValueError(f"most must be 1 or above, got {most}")
    sheet = Sheet.of(patch)
    parts, met = divide(sheet, most)
    caster, rim = make_caster(patch.triangles()), rim_of(bone, patch)
    built = [
        _zone(sheet, rows, f"Z{number}", caster, rim, patch if len(parts) == 1 else None)
        for number, rows in enumerate(parts, start=first)
    ]
    normals = np.array([zone.plane.normal for zone, _ in built])
    pieces = pieces_of_zones(patch, parts, normals)
    zones = tuple(replace(zone, pieces=own) for (zone, _), own in zip(built, pieces, strict=True))
    cautions = (
        *_division_cautions(zones, most, met=met),
        *_zone_cautions([(zone.id, [*lost, *fit_cautions(zone.fit)]) for zone, lost in built]),
        *_small(zones, thread),
    )
    return zones, cautions


def _zone(
    sheet: Sheet,
    rows: Ints,
    name: str,
    caster: Caster,
    rim: tuple[Vec3s, ...],
    patch: Surface | None,
) -> tuple[Zone, list[str]]:
    """Fit a zone to some faces; what of them it leaves out."""
    part = sheet.part(rows)
    weights = part.weights()
    fitted = fit_plane(part.points, weights, edges_of(part.faces)[0])
    region = _shadow(to_plane(fitted.plane, part.points)[part.faces])
    fit = plane_fit(fitted, part.points, weights, region)
    own = _surface(part, name) if patch is None else patch
    zone = Zone(name, fit, region, float(part.area.sum()), own, caster, rim)
    return zone, _off_plane(fitted, weights)


def _surface(part: Sheet, name: str) -> Surface:
    freeze(part.points, part.faces)
    whole = part.patch
    return Surface(part.points, part.faces, {}, f"{whole.name}:{name}", whole.sha256, 0)


def _shadow(triangles: Floats) -> MultiPolygon:
    """Union of triangles in the plane."""
    rings = np.concatenate([triangles, triangles[:, :1]], axis=1)
    shadows = shapely.polygons(rings)
    shadows = shadows[shapely.area(shadows) > 0.0]
    return MultiPolygon(polygons_of(_side_by_side(shadows) or shapely.unary_union(shadows)))


def _side_by_side(shadows: Any) -> Any:  # noqa: ANN401 - shapely has no types here
    """Union of areas of which none overlap, twelve times as fast; None where some do."""
    try:
        union = shapely.coverage_union_all(shadows)
    except shapely.errors.GEOSException:  # how it says that edges cross
        return None
    whole = np.isclose(shapely.area(shadows).sum(), union.area, rtol=1e-9, atol=0.0)
    return union if whole and union.is_valid else None


def _off_plane(fitted: FittedPlane, weights: Floats) -> list[str]:
    share = left_out(fitted, weights)
    if share <= SAID_SHARE:
        return []
    largest = float(np.abs(fitted.heights).max())
    sentence = (
        f"{100 * share:.0f} % of the fracture surface lies off the plane of the rest, by up to "
        f"{largest:.1f} mm, and did not count for the normal."
    )
    return [sentence]


def _division_cautions(zones: Sequence[Zone], most: int, *, met: bool) -> list[str]:
    if len(zones) == 1:
        return []
    normals = np.array([zone.plane.normal for zone in zones])
    cosine = np.clip(np.abs(normals @ normals.T), 0.0, 1.0)
    turn = float(np.degrees(np.arccos(cosine.min())))
    line = (
        f"The fracture surface is no single plane: it is divided into {len(zones)} zones, whose "
        f"normals differ by up to {turn:.0f} degrees."
    )
    more = (
        f"Even {most} zones do not make every one of them flat: judge the tilt of each screw by "
        "the fracture surface where it crosses."
    )
    return [line] if met else [line, more]


def _zone_cautions(said: Sequence[tuple[str, list[str]]]) -> list[str]:
    """What is said of each zone; what is said of several is said once."""
    if len(said) == 1:
        return said[0][1]
    names: dict[str, list[str]] = {}
    for name, lines in said:
        for line in lines:
            names.setdefault(line, []).append(name)
    return [
        f"Zone{'s' if len(of) > 1 else ''} {', '.join(of)}: {line[0].lower()}{line[1:]}"
        for line, of in names.items()
    ]


def _small(zones: Sequence[Zone], thread: float | None) -> list[str]:
    if thread is None:
        return []
    least = 0.25 * np.pi * (DISC * thread) ** 2
    return [
        f"Zone {zone.id} is only {zone.area:.0f} mm²: small for a screw of {thread:.1f} mm, which "
        f"with its own diameter of bone on either side takes {least:.0f} mm²."
        for zone in zones
        if zone.area < least
    ]


def overhang(bone: Bone, zones: Sequence[Zone]) -> list[str]:
    """Say where a surface covers more than bone: beyond the outside, or the canal.

    Parameters
    ----------
    bone : Bone
        The bone, in one piece.
    zones : sequence of Zone
        Zones of a surface that was drawn through it.

    Returns
    -------
    list of str
        One sentence each.
    """
    outside = hollow = 0.0
    for zone in zones:
        section = cut(bone.surface, bone.shells, zone.plane)
        filled = shapely.union_all([Polygon(part.exterior) for part in section.parts])
        canal = filled.difference(shapely.union_all(section.parts))
        outside += float(zone.region.difference(filled).area)
        hollow += float(zone.region.intersection(canal).area)
    whole = sum(zone.region.area for zone in zones)
    lines = []
    if outside > SAID_SHARE * whole:
        lines.append(
            f"{100 * outside / whole:.0f} % of the fracture surface lies outside the bone where "
            "its plane cuts it; distances to the fracture line are taken from the rim of the "
            "surface."
        )
    if hollow > SAID_SHARE * whole:
        lines.append(
            f"The fracture surface spans the canal: {hollow:.0f} mm² of it are marrow, not bone."
        )
    return lines
