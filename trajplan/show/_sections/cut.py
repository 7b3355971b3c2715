"""Cutting bone, fracture and other surfaces with the plane of a section."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from trajplan.fracture import cut
from trajplan.geometry import Plane, from_plane, plane_depth, to_plane

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from trajplan.arrays import Floats, Ints, Vec3, Vec3s
    from trajplan.bone import Bone, Surface
    from trajplan.fracture import Fracture, Zone
    from trajplan.show._items.solids import Solid

__all__ = ["Frame", "bone_area", "fracture_lines", "solid_area", "surface_lines"]

#: Sine of the angle between a flat fracture and the section below which they count as parallel:
#: their common line would then lie anywhere.
PARALLEL = 1e-6
#: mm; openings of the bone surface that are not worth a word.
SAID_GAP = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The plane of a section, with the coordinates (depth, offset) in it."""

    origin: Vec3  # (3,) mm, the entry
    along: Vec3  # (3,) unit, the axis from head to tip
    up: Vec3  # (3,) unit, towards positive offsets

    @property
    def plane(self) -> Plane:
        """The plane itself."""
        return Plane.through(self.origin, np.cross(self.along, self.up))

    def flat(self, points: Vec3s) -> Floats:
        """Depth and offset of points in the plane, (n, 3) to (n, 2), mm."""
        return (points - self.origin) @ np.stack([self.along, self.up], axis=1)


def bone_area(bone: Bone, frame: Frame) -> tuple[MultiPolygon, MultiPolygon, tuple[float, ...]]:
    """Bone, and the hollows that it encloses, in the plane of a section.

    Parameters
    ----------
    bone : Bone
        The bone.
    frame : Frame
        The section.

    Returns
    -------
    bone, canal : MultiPolygon
    gaps : tuple of float, mm
        Openings of the surface that a straight line closed.
    """
    plane = frame.plane
    found = cut(bone.surface, bone.shells, plane)
    parts = [_moved(part, plane, frame) for part in found.parts]
    hollows = [Polygon(ring) for part in parts for ring in part.interiors]
    area = MultiPolygon(parts)
    canal = _polygons(shapely.difference(shapely.union_all(hollows), area))
    return area, canal, tuple(gap for gap in found.gaps if gap > SAID_GAP)


def fracture_lines(fracture: Fracture, frame: Frame, bone: MultiPolygon) -> MultiLineString:
    """Fracture line in the plane of a section, as far as the bone's outline reaches.

    Parameters
    ----------
    fracture : Fracture
        The fracture.
    frame : Frame
        The section.
    bone : MultiPolygon
        Bone in the section.

    Returns
    -------
    MultiLineString
        The canal included.
    """
    filled = _filled(bone)
    parts = []
    for zone in fracture.zones:
        if zone.patch is None:
            parts.append(_flat_zone(zone, frame))
        else:
            parts.append(shapely.intersection(surface_lines(zone.patch, frame), filled))
    return _lines(shapely.union_all(parts))


def surface_lines(surface: Surface, frame: Frame) -> MultiLineString:
    """Lines in which a surface meets the plane of a section.

    Parameters
    ----------
    surface : Surface
        Open or closed.
    frame : Frame
        The section.

    Returns
    -------
    MultiLineString

    """
    return _crossed(surface.vertices, surface.faces, frame)


def solid_area(solid: Solid, frame: Frame) -> MultiPolygon:
    """What the plane of a section cuts of a closed solid.

    Parameters
    ----------
    solid : Solid
        Closed, such as a plate.
    frame : Frame
        The section.

    Returns
    -------
    MultiPolygon
        Holes left open; empty where the plane passes by.
    """
    return _polygons(shapely.build_area(_crossed(*solid, frame)))


def _crossed(vertices: Vec3s, faces: Ints, frame: Frame) -> MultiLineString:
    """Lines in which triangles meet the plane of a section.

    Each crossed edge is met at the same point from both of its faces, to the last bit, so
    that the pieces join into lines without any rounding of positions.
    """
    plane = frame.plane
    above = plane.height(vertices) >= 0.0
    side = above[faces]
    corner = faces[side.any(axis=1) & ~side.all(axis=1)]
    ends = np.sort(np.stack([corner, np.roll(corner, -1, axis=1)], axis=2), axis=2)
    ends = ends[above[ends[..., 0]] != above[ends[..., 1]]]  # two edges a face, in order
    a, b = vertices[ends[:, 0]], vertices[ends[:, 1]]
    height = plane.height(a)
    share = height / (height - plane.height(b))
    points = frame.flat(a + share[:, None] * (b - a)).reshape(-1, 2, 2)
    return _lines(shapely.line_merge(MultiLineString(list(points))))


def _flat_zone(zone: Zone, frame: Frame) -> BaseGeometry:
    """Where a flat zone, which has no surface of its own, meets the section."""
    plane, other = frame.plane, zone.plane
    line = np.cross(plane.normal, other.normal)
    sine = np.linalg.norm(line)
    if sine < PARALLEL:
        return MultiLineString()
    line /= sine
    low, high = np.reshape(zone.region.bounds, (2, 2))
    middle = from_plane(other, (low + high)[None] / 2.0)
    towards = np.cross(other.normal, line)[None]  # in the zone, straight to the common line
    start = middle + plane_depth(plane, middle, towards)[:, None] * towards
    reach = np.linalg.norm(high - low)
    ends = start + reach * np.outer([-1.0, 1.0], line)
    inside = shapely.intersection(MultiLineString([to_plane(other, ends)]), _filled(zone.region))
    return shapely.transform(inside, lambda xy: frame.flat(from_plane(other, xy)))


def _moved(part: Polygon, plane: Plane, frame: Frame) -> Polygon:
    return shapely.transform(part, lambda xy: frame.flat(from_plane(plane, xy)))


def _filled(area: MultiPolygon) -> BaseGeometry:
    return shapely.union_all([Polygon(part.exterior) for part in area.geoms])


def _lines(shape: BaseGeometry) -> MultiLineString:
    return MultiLineString(_parts(shape, "LineString"))


def _polygons(shape: BaseGeometry) -> MultiPolygon:
    return MultiPolygon(_parts(shape, "Polygon"))


def _parts(shape: BaseGeometry, kind: str) -> list[BaseGeometry]:
    """Parts of a kind that hold something: an empty one is no part of a collection."""
    return [p for p in shapely.get_parts(shape) if p.geom_type == kind and not p.is_empty]
