"""From a bone and its plan to a plain list of things to draw."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.fracture import outline
from trajplan.geometry import from_plane
from trajplan.implants import find_screw
from trajplan.show._items.item import line, solid_item
from trajplan.show._items.palette import FRAGMENT_OPACITY, FRAGMENTS
from trajplan.show._items.plate import every_screw, plate_items
from trajplan.show._items.screw import screw_items
from trajplan.show._items.solids import onto_axis, turned

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trajplan.arrays import Bools, Vec3
    from trajplan.bone import Shells, Surface
    from trajplan.files import LandmarkRecord, PlanFile, WireRecord
    from trajplan.fracture import Fracture, Zone
    from trajplan.implants import Catalogue
    from trajplan.show._items.item import Item
    from trajplan.show._items.palette import Role
    from trajplan.show._items.solids import Solid

__all__ = ["bone_items", "landmark_items", "obstacle_items", "scene", "wire_items", "zone_items"]


def scene(
    bone: Surface,
    plan: PlanFile,
    catalogue: Catalogue,
    *,
    shells: Shells | None = None,
    fragments: Sequence[str] = (),
    fracture: Fracture | None = None,
    joints: Mapping[str, Surface] | None = None,
    avoids: Mapping[str, Surface] | None = None,
) -> list[Item]:
    """List everything that a picture of a plan shows.

    Parameters
    ----------
    bone : Surface
        The bone.
    plan : PlanFile
        The plan, whose screws are drawn to size.
    catalogue : Catalogue
        Where the plan's kinds of screw and washer are found.
    shells : Shells, optional
        Shells of the bone; with them the canal is drawn apart from the outer surface.
    fragments : sequence of str, optional
        Name of each body of the shells, for bodies to be told apart.
    fracture : Fracture, optional
        The fracture.
    joints, avoids : mapping of str to Surface, optional
        Joint surfaces, and what is to be kept clear of, by name.

    Returns
    -------
    list of Item
        Bone first, screws last.

    Raises
    ------
    CatalogueError
        If the catalogue lacks a kind that the plan names.
    """
    items = bone_items(bone, shells, fragments)
    for zone in fracture.zones if fracture else ():
        items += zone_items(zone)
    items += obstacle_items(joints or {}, avoids or {})
    for plate in plan.plates:
        items += plate_items(plate)
    for record in every_screw(plan):
        washer = catalogue.washers[record.washer] if record.washer else None
        items += screw_items(record, find_screw(catalogue, record.kind), washer)
    for wire in plan.wires:
        items += wire_items(wire)
    middle = bone.vertices.mean(axis=0)
    for mark in plan.bearings.landmarks:
        items += landmark_items(mark, middle)
    return items


def landmark_items(mark: LandmarkRecord, middle: Vec3) -> list[Item]:
    """Draw a landmark of the case as a small ball with its name.

    Parameters
    ----------
    mark : LandmarkRecord
        The landmark.
    middle : (3,) float array, mm
        Of the bone: the name stands away from it.

    Returns
    -------
    list of Item
    """
    at = np.array(mark.point)
    turn = np.linspace(0.0, np.pi, 9)
    profile = LANDMARK * np.stack([-np.cos(turn), np.sin(turn)], axis=1)
    solid = onto_axis(turned(profile), at, np.array([0.0, 0.0, 1.0]))
    return [
        solid_item(mark.name, "landmark", solid),
        line(f"{mark.name} label", "label", [at, middle], mark.name),
    ]


#: mm, radius of the ball that stands for a landmark: to be seen beside a screw's head, no
#: larger.
LANDMARK = 2.0


def obstacle_items(joints: Mapping[str, Surface], avoids: Mapping[str, Surface]) -> list[Item]:
    """List joint surfaces, and what is to be kept clear of.

    Parameters
    ----------
    joints, avoids : mapping of str to Surface
        By name.

    Returns
    -------
    list of Item
    """
    named: list[tuple[Role, str, Surface]] = [
        *(("joint", name, surface) for name, surface in joints.items()),
        *(("avoid", name, surface) for name, surface in avoids.items()),
    ]
    return [solid_item(name, role, (s.vertices, s.faces)) for role, name, s in named]


def wire_items(wire: WireRecord) -> list[Item]:
    """Draw a wire from where it stands out at the drill to its tip in the far wall.

    Parameters
    ----------
    wire : WireRecord
        The wire as planned.

    Returns
    -------
    list of Item
    """
    entry, direction = np.array(wire.entry), np.array(wire.direction)
    depth = float(np.linalg.norm(np.array(wire.exit) - entry))
    radius = wire.diameter / 2.0
    profile = np.array(
        [[-STANDS_OUT, 0.0], [-STANDS_OUT, radius], [depth - radius, radius], [depth, 0.0]]
    )
    solid = onto_axis(turned(profile), entry, direction)
    ends = entry + np.outer([-STANDS_OUT, depth], direction)
    return [
        solid_item(wire.id, "wire", solid),
        line(f"{wire.id} label", "label", ends, f"{wire.id}  {wire.kind}"),
    ]


#: How far a wire is drawn out of the bone, mm; a real one is cut where it is in the way.
STANDS_OUT = 25.0


def bone_items(bone: Surface, shells: Shells | None, fragments: Sequence[str]) -> list[Item]:
    """Draw the bone, each body in a colour of its own where there are several.

    Parameters
    ----------
    bone : Surface
        The bone.
    shells : Shells or None
        With them bodies and canal are told apart.
    fragments : sequence of str
        Name of each body; fewer than two: all bodies are one bone.

    Returns
    -------
    list of Item
    """
    if shells is None:
        return [solid_item(bone.name, "bone", (bone.vertices, bone.faces))]
    hollow = (shells.nesting % 2 == 1)[shells.of_face]
    if len(fragments) < 2:
        items = [solid_item(bone.name, "bone", _part(bone, ~hollow))]
    else:
        body = shells.body[shells.of_face]
        items = [
            replace(
                solid_item(name, "bone", _part(bone, ~hollow & (body == number))),
                colour=FRAGMENTS[number % len(FRAGMENTS)],
                opacity=FRAGMENT_OPACITY,
            )
            for number, name in enumerate(fragments)
        ]
    if hollow.any():
        items.append(solid_item(f"{bone.name} canal", "hollow", _part(bone, hollow)))
    return items


def _part(bone: Surface, chosen: Bools) -> Solid:
    used, index = np.unique(bone.faces[chosen], return_inverse=True)
    return bone.vertices[used], index.reshape(-1, 3)


def zone_items(zone: Zone) -> list[Item]:
    """Draw a zone of the fracture and its line.

    Parameters
    ----------
    zone : Zone
        The zone.

    Returns
    -------
    list of Item
    """
    name = f"fracture {zone.id}"
    solid = (
        (zone.patch.vertices, zone.patch.faces) if zone.patch is not None else _region_solid(zone)
    )
    edges = [line(f"{name} line", "outline", ring) for ring in outline(zone)]
    return [solid_item(name, "fracture", solid), *edges]


def _region_solid(zone: Zone) -> Solid:
    """Triangles that fill a flat region, holes left open."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(zone.region))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    vertices = from_plane(zone.plane, corners.reshape(-1, 2))
    return vertices, np.arange(len(vertices)).reshape(-1, 3)
