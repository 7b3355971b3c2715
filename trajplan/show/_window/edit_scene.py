"""What the window shows of a session: bone and obstacles once, the rest as it changes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.geometry import ring_offsets
from trajplan.implants import find_screw
from trajplan.planner import keep_wires
from trajplan.show._items.distances import distance_items, wire_distance_items
from trajplan.show._items.item import line, solid_item
from trajplan.show._items.plate import plate_items, screws_in
from trajplan.show._items.pressure import with_pressure
from trajplan.show._items.scene import bone_items, obstacle_items, wire_items, zone_items
from trajplan.show._items.screw import screw_items
from trajplan.show._sections.cut import bone_area, fracture_lines
from trajplan.show._sections.section import section_frame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3s
    from trajplan.files import PlateRecord, ScrewRecord
    from trajplan.planner import Setup
    from trajplan.show._items.item import Item
    from trajplan.show._items.palette import Role
    from trajplan.show._sections.cut import Frame
    from trajplan.show._window.session import Session

__all__ = ["changing_items", "cut_frame", "standing_items"]

#: Room between the head, or the thread, and the ring by which an end of the axis is held, mm.
GRIP_ROOM = 1.6
#: How far outside the picked screw its name stands, mm.
NAME_OUT = 5.0
#: A section is set back by this, so that the screw's axis is in front of it, mm.
SET_BACK = 0.02

#: Parts of a screw that are there once the drill sheet has come to a step of this name; a
#: hole once it is drilled, the screw when it is driven.
PARTS_BY_STEP: dict[str, frozenset[Role]] = {
    "Gliding hole": frozenset({"gliding hole"}),
    "Thread hole": frozenset({"thread hole"}),
    "Screw": frozenset({"head", "shank", "thread", "washer"}),
}
#: Parts that are there from the first step on: where the screw is to go.
ALWAYS: frozenset[Role] = frozenset({"axis", "mark", "label"})


def standing_items(setup: Setup) -> list[Item]:
    """List what no edit changes: bone, canal, joint surfaces, what is to be kept clear of.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    list of Item
    """
    obstacles = setup.around.obstacles
    return [
        *bone_items(setup.bone.surface, setup.bone.shells, setup.fragment_names),
        *obstacle_items(
            {o.name: o.surface for o in obstacles if o.role == "joint"},
            {o.name: o.surface for o in obstacles if o.role == "avoid"},
        ),
    ]


def changing_items(session: Session) -> list[Item]:
    """List what edits change: pressure, screws, grips, distances, the cut.

    Parameters
    ----------
    session : Session
        The session.

    Returns
    -------
    list of Item
    """
    setup, looking = session.setup, session.looking
    zones = [item for zone in setup.fracture.zones for item in zone_items(zone)]
    finished = looking.step is None  # before that, screws are missing that press
    items = with_pressure(zones, setup, session.state.pressing if finished else None)
    for record in session.record.screws:
        items += [_short(item, record.id) for item in _screw(session, record)]
    for plate in session.record.plates:
        items += _plate(session, plate)
    for wire in session.record.wires:
        items += [_short(item, wire.id) for item in wire_items(wire)]
    items += _grips(session)
    answer = session.state.answer
    if looking.distances and looking.picked is not None and answer is not None:
        items += distance_items(setup, answer, looking.picked)
        if session.record.wires:
            wires = keep_wires(setup, session.record.wires, answer.screws)
            items += wire_distance_items(setup, wires, answer, looking.picked)
    frame = cut_frame(session)
    if frame is not None:
        items += _cut_face(setup, frame)
    return items


def cut_frame(session: Session) -> Frame | None:
    """Plane of the cut: through the axis of the screw picked, turned about it.

    Parameters
    ----------
    session : Session
        The session.

    Returns
    -------
    Frame or None
        None where nothing is cut, or the axis misses the bone.
    """
    screw, angle = session.screw, session.looking.cut
    if screw is None or angle is None or screw.entry is None:
        return None
    return section_frame(session.setup, screw, angle)


def _plate(session: Session, plate: PlateRecord) -> list[Item]:
    """A plate and its screws as far as the drilling order has come; its name alone as label."""
    number, done = session.looking.step, set[str]()
    if number is not None:
        past = [step for step in session.steps[: number + 1] if step.screw == plate.id]
        if not past:
            return []
        done = {step.step.action for step in past}
    items = [_short(item, plate.id) for item in plate_items(plate)]
    for hole, screw in screws_in(session.record, plate).items():
        if screw in plate.screws and (number is None or f"Hole {hole}" in done):
            kind = find_screw(session.setup.catalogue, screw.kind)
            items += [_short(item, screw.id) for item in screw_items(screw, kind, None)]
    return items


def _screw(session: Session, record: ScrewRecord) -> list[Item]:
    """A screw as far as the drilling order has come."""
    catalogue = session.setup.catalogue
    washer = catalogue.washers[record.washer] if record.washer else None
    items = screw_items(record, find_screw(catalogue, record.kind), washer)
    there = _made(session, record.id)
    return items if there is None else [item for item in items if item.role in there]


def _made(session: Session, name: str) -> frozenset[Role] | None:
    """Parts of a screw that are there at the step shown; None: all of them."""
    number = session.looking.step
    if number is None:
        return None
    made = set(ALWAYS)
    for step in session.steps[: number + 1]:
        if step.screw == name:
            made |= PARTS_BY_STEP.get(step.step.action, frozenset())
    return frozenset(made)


def _short(item: Item, name: str) -> Item:
    """A label that moves with its screw has room for the name alone."""
    if item.role == "number":
        return replace(item, points=item.points[:1])
    if item.role != "label":
        return item
    head, tip = item.points[0], item.points[-1]
    out = (head - tip) / np.linalg.norm(head - tip)
    return replace(item, points=(head + NAME_OUT * out)[None], label=name)


def _grips(session: Session) -> list[Item]:
    """Rings by which the ends of the picked axis are held."""
    ends, screw, looking = session.ends, session.screw, session.looking
    if ends is None or screw is None:
        return []
    kind = find_screw(session.setup.catalogue, screw.kind)
    radii = {"entry": kind.head_diameter / 2, "target": kind.thread_diameter / 2}
    along = ends[1] - ends[0]
    direction = (along / np.linalg.norm(along))[None]
    items = []
    for (name, radius), at in zip(radii.items(), ends, strict=True):
        ring = ring_offsets(direction, np.array([radius + GRIP_ROOM]), 64)[0]
        held = looking.hold in (name, "both")
        closed = at + np.vstack([ring, ring[:1]])
        items.append(line(f"grip {name}{' held' if held else ''}", "grip", closed))
    return items


def _cut_face(setup: Setup, frame: Frame) -> list[Item]:
    """Bone in the plane of a cut, and the fracture line in it."""
    bone, _, _ = bone_area(setup.bone, frame)
    if bone.is_empty:
        return []
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(bone))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
    points = _space(frame, corners)
    faces = np.arange(len(points)).reshape(-1, 3)
    rings = [r for part in bone.geoms for r in (part.exterior, *part.interiors)]
    return [
        solid_item("cut bone", "section", (points, faces)),
        *_lines("cut edge", "edge", frame, rings),
        *_lines(
            "cut fracture", "outline", frame, fracture_lines(setup.fracture, frame, bone).geoms
        ),
    ]


def _lines(name: str, role: Role, frame: Frame, shapes: Sequence[shapely.LineString]) -> list[Item]:
    return [
        line(f"{name} {i}", role, _space(frame, np.asarray(shape.coords)))
        for i, shape in enumerate(shapes)
    ]


def _space(frame: Frame, flat: Floats) -> Vec3s:
    """Points of the section plane in space, a hair behind the axis."""
    back = -SET_BACK * np.cross(frame.along, frame.up)
    out: Vec3s = frame.origin + back + flat @ np.stack([frame.along, frame.up])
    return out
