"""The true cross-section of a bone with a plane."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from trajplan.fracture._loops import close_chains, trace
from trajplan.geometry import to_plane

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from trajplan.arrays import Floats, Ints
    from trajplan.bone import Shells, Surface
    from trajplan.geometry import Plane

__all__ = ["Section", "cut", "polygons_of"]

#: mm²; a piece of section below it is a plane that merely touches, or rounding.
LEAST_AREA = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """Cross-section of a bone in a plane's own frame."""

    parts: tuple[Polygon, ...]  # bone, hollows cut out; apart from each other
    gaps: tuple[float, ...]  # mm, openings of the surface that a straight line closed


def cut(surface: Surface, shells: Shells, plane: Plane) -> Section:
    """Cut a bone with a plane.

    Parameters
    ----------
    surface : Surface
        The bone.
    shells : Shells
        Its shells.
    plane : Plane
        The plane; its frame (`to_plane`) is the section's.

    Returns
    -------
    Section
        No part where the plane misses the bone.

    Notes
    -----
    Vertices on the plane count as above it, for every face alike: each closed shell then
    gives closed loops, whatever the plane meets, and a plane that only touches gives loops
    without area. Loops are linked by mesh edge, never by rounded position. Within a body
    they nest by parity (the canal is cut out); bodies are united; the loops of open
    shells, of which no nesting is known, cut by parity through all of it.
    """
    node, link, shell = _crossed_edges(surface, shells, plane)
    loops: list[tuple[int, Floats]] = []
    chains: list[Floats] = []
    for number in np.unique(shell):
        closed, open_ = trace(link[shell == number])
        loops += [(int(number), node[loop]) for loop in closed]
        chains += [node[chain] for chain in open_]
    bridged, gaps = close_chains(chains)
    bodies: dict[int, list[BaseGeometry]] = {}
    loose = [_area_of(loop) for loop in bridged]
    for number, loop in loops:
        if shells.closed[number]:
            bodies.setdefault(int(shells.body[number]), []).append(_area_of(loop))
        else:
            loose.append(_area_of(loop))
    solid = shapely.union_all([_parity(areas) for areas in bodies.values()])
    return Section(polygons_of(_parity([solid, *loose])), gaps)


def polygons_of(area: BaseGeometry) -> tuple[Polygon, ...]:
    """Polygons of any geometry, those without area left out.

    Parameters
    ----------
    area : shapely geometry
        Polygon, collection, or anything that an overlay returns.

    Returns
    -------
    tuple of Polygon
    """
    parts = shapely.get_parts(area)
    if area.geom_type == "GeometryCollection":
        return tuple(p for part in parts for p in polygons_of(part) if p.area > LEAST_AREA)
    return tuple(p for p in parts if isinstance(p, Polygon) and p.area > LEAST_AREA)


def _crossed_edges(surface: Surface, shells: Shells, plane: Plane) -> tuple[Floats, Ints, Ints]:
    """Points where mesh edges cross the plane, links between them, and their shells.

    Returns
    -------
    node : (k, 2) float array, mm
        In the plane's frame, one for each edge.
    link : (m, 2) int array
        Rows of `node` that a face joins.
    shell : (m,) int array
        Shell of each link.
    """
    above = plane.height(surface.vertices) >= 0.0
    side = above[surface.faces]
    face = np.flatnonzero(side.any(axis=1) & ~side.all(axis=1))
    corner = surface.faces[face]
    ends = np.stack([corner, np.roll(corner, -1, axis=1)], axis=2)  # (m, 3, 2)
    crossed = above[ends[..., 0]] != above[ends[..., 1]]  # two of three
    ends = np.sort(ends[crossed], axis=1)
    edges, link = np.unique(ends, axis=0, return_inverse=True)
    link = link.reshape(-1, 2)
    apart = link[:, 0] != link[:, 1]  # a face with a repeated corner joins an edge to itself
    a, b = surface.vertices[edges[:, 0]], surface.vertices[edges[:, 1]]
    height_a, height_b = plane.height(a), plane.height(b)
    share = height_a / (height_a - height_b)
    return to_plane(plane, a + share[:, None] * (b - a)), link[apart], shells.of_face[face[apart]]


def _area_of(loop: Floats) -> BaseGeometry:
    if len(loop) < 3:
        return Polygon()
    return shapely.make_valid(Polygon(loop))


def _parity(areas: list[BaseGeometry]) -> BaseGeometry:
    """Area that an odd number of areas cover."""
    return reduce(shapely.symmetric_difference, areas, MultiPolygon())
