"""Section of the bone through a screw's axis: everything to scale, nothing drawn yet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from trajplan.arrays import as_directions, as_vector
from trajplan.implants import find_screw
from trajplan.planner import plan_bearings
from trajplan.show._sections.cut import (
    Frame,
    bone_area,
    fracture_lines,
    solid_area,
    surface_lines,
)
from trajplan.show._sections.dims import Dimension, dimensions
from trajplan.show._sections.page import window_of
from trajplan.show._sections.screw import hole_outlines, screw_outlines
from trajplan.show._sections.slice import BLACK, WHITE, Slice, ct_slice
from trajplan.show._words.sides import arms, side_name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from shapely import MultiLineString, MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.bone import Surface
    from trajplan.files import ScrewRecord
    from trajplan.implants import Screw
    from trajplan.planner import Setup
    from trajplan.show._items.solids import Solid

__all__ = ["Section", "section_frame", "sections"]

#: Cosine between axis and long direction of the bone above which a plane through both would
#: turn with every small change of the axis.
ALONG = 0.9
#: mm from a section's plane within which a landmark is drawn in it (assumption: half the width
#: of a finger's tip).
IN_PLANE = 5.0
#: What is said of the CT in a drawing.
BEHIND = (
    f"Behind the screw lies the CT in this plane, {BLACK:g} HU black to {WHITE:g} HU white: see "
    "whether the edge of the mesh runs along the edge of the bone."
)


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """A section in the plane through a screw's axis; coordinates are (depth, offset) in mm.

    Depth runs along the axis from the entry, offset at a right angle to it in the plane.
    """

    screw: str  # id
    title: str  # screw, length, technique
    view: str  # which plane this is
    frame: Frame
    bone: MultiPolygon  # bone, hollows cut out
    canal: MultiPolygon  # hollows that bone encloses in this plane
    fracture: MultiLineString
    plate: BaseGeometry  # what is cut of plates
    surfaces: tuple[tuple[str, str, MultiLineString], ...]  # name, "joint" or "avoid", lines
    outline: Mapping[str, Polygon]  # head, shank, core, thread (its envelope), tip, washer
    holes: Mapping[str, Polygon]  # gliding hole, shank hole, thread hole, tap, countersink
    ends: tuple[float, float]  # depth of entry and exit
    pitch: float  # mm, of the thread
    dimensions: tuple[Dimension, ...]
    notes: tuple[str, ...]  # what a reader must know of this drawing, one sentence each
    ct: Slice | None = None  # the CT in this plane
    ways: tuple[tuple[str, Vec3], ...] = ()  # words and unit vectors of the orientation cross
    landmarks: tuple[tuple[str, tuple[float, float]], ...] = ()  # names, and (depth, offset)


def sections(
    setup: Setup, record: ScrewRecord, plates: Sequence[Solid] = (), title: str = ""
) -> tuple[Section, ...]:
    """Section the bone through a screw's axis, along the bone and turned by 90 degrees.

    Parameters
    ----------
    setup : Setup
        The case.
    record : ScrewRecord
        A screw of its plan.
    plates : sequence of Solid
        Plates of the plan, as from `plate_solid`.
    title : str
        Over the drawing; by default screw, length and technique.

    Returns
    -------
    tuple of Section
        Two sections; none where the axis misses the bone.

    Raises
    ------
    CatalogueError
        If the catalogue lacks the screw's kind.
    """
    if record.entry is None or record.exit is None:
        return ()
    along = "Plane through the screw's axis and the long direction of the bone"
    turned = "The same, turned 90\N{DEGREE SIGN} about the screw's axis"
    views = ((0.0, along), (90.0, turned))
    return tuple(
        _section(setup, record, section_frame(setup, record, angle), view, plates, title)
        for angle, view in views
    )


def section_frame(setup: Setup, record: ScrewRecord, angle: float) -> Frame:
    """Plane through a screw's axis, turned about it from the long direction of the bone.

    Parameters
    ----------
    setup : Setup
        The case.
    record : ScrewRecord
        A screw whose axis meets the bone.
    angle : float, degrees
        Right-handed about the axis from head to tip.

    Returns
    -------
    Frame
    """
    assert record.entry is not None
    entry, direction = as_vector(record.entry), as_directions(record.direction)[0]
    up = _up(setup.bone.surface, direction)
    quarters, rest = divmod(angle, 90.0)
    for _ in range(int(quarters) % 4):
        up = np.cross(direction, up)
    turn = np.radians(rest)
    return Frame(entry, direction, np.cos(turn) * up + np.sin(turn) * np.cross(direction, up))


def _up(surface: Surface, direction: Vec3) -> Vec3:
    """Across the axis, towards the longest direction of the bone that is not the axis'."""
    for long in _long_directions(surface):
        cosine = float(long @ direction)
        if abs(cosine) < ALONG:
            break
    across = long - cosine * direction
    up: Vec3 = as_directions(across * np.copysign(1.0, across[np.abs(across).argmax()]))[0]
    return up


def _long_directions(surface: Surface) -> Vec3s:
    """Principal directions of a surface, longest first, (3, 3)."""
    a, b, c = surface.triangles().transpose(1, 0, 2)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    middle = (a + b + c) / 3.0
    spread = middle - np.average(middle, axis=0, weights=area)
    _, vectors = np.linalg.eigh((spread * area[:, None]).T @ spread)
    directions: Vec3s = vectors.T[::-1]
    return directions


def _section(
    setup: Setup,
    record: ScrewRecord,
    frame: Frame,
    view: str,
    plates: Sequence[Solid],
    title: str,
) -> Section:
    assert record.entry is not None
    assert record.exit is not None
    screw = find_screw(setup.catalogue, record.kind)
    washer = setup.catalogue.washers[record.washer] if record.washer else None
    bone, canal, gaps = bone_area(setup.bone, frame)
    field = setup.settings.field
    section = Section(
        screw=record.id,
        title=title or _title(record, screw),
        view=view,
        frame=frame,
        bone=bone,
        canal=canal,
        fracture=fracture_lines(setup.fracture, frame, bone),
        plate=shapely.union_all([solid_area(solid, frame) for solid in plates]),
        surfaces=tuple(
            (o.name, o.role, surface_lines(o.surface, frame)) for o in setup.around.obstacles
        ),
        outline=screw_outlines(record, screw, washer),
        holes=hole_outlines(record, screw),
        ends=(0.0, float(np.linalg.norm(np.subtract(record.exit, record.entry)))),
        pitch=screw.pitch,
        dimensions=dimensions(record, screw),
        notes=(
            _lie(setup, frame),
            *_notes(record, gaps),
            *([] if field is None else [BEHIND]),
        ),
        ways=tuple(arms(setup.case.frame, plan_bearings(setup))),
        landmarks=tuple(_landmarks(setup, frame)),
    )
    if field is None:
        return section
    return replace(section, ct=ct_slice(field, frame, window_of(section)))


def _title(record: ScrewRecord, screw: Screw) -> str:
    words = f"{record.technique} screw"
    if record.gliding_hole is not None:
        words += " through a gliding hole"
    elif record.technique == "lag" and screw.partial:
        words += ", partial thread"
    washer = ", washer" if record.washer else ""
    return f"{record.id}: {record.size}, {words}{washer}"


def _landmarks(setup: Setup, frame: Frame) -> Iterator[tuple[str, tuple[float, float]]]:
    """Landmarks that lie in the plane, or so near it that a finger would feel no difference."""
    for mark in plan_bearings(setup).landmarks:
        away = np.asarray(mark.point) - frame.origin
        if abs(float(away @ np.cross(frame.along, frame.up))) <= IN_PLANE:
            yield mark.name, (float(away @ frame.along), float(away @ frame.up))


def _lie(setup: Setup, frame: Frame) -> str:
    """Which way the drawing lies, seen by who looks at it."""
    label, bearings = setup.case.frame, plan_bearings(setup)
    ways = (-frame.along, frame.along, frame.up, np.cross(frame.along, frame.up))
    left, right, top, near = (side_name(label, bearings, way) for way in ways)
    return f"On this page left is {left}, right {right}, top {top}; seen from {near}."


def _notes(record: ScrewRecord, gaps: tuple[float, ...]) -> tuple[str, ...]:
    notes = []
    bases = {c.basis for c in (record.near_cortex, record.far_cortex) if c is not None}
    if "assumed" in bases:
        notes.append("No modelled canal here: cortex and canal are assumed, not measured.")
    if "unknown" in bases:
        notes.append("No modelled canal here: how thick the cortex is cannot be told.")
    if record.unknown_intervals:
        notes.append("Part of the axis cannot be told to lie in bone or outside.")
    if record.leaves_bone:
        notes.append("The axis leaves the bone between entry and exit.")
    if gaps:
        notes.append(
            f"The bone surface is open in this plane; gaps up to {max(gaps):.1f} mm were closed "
            "with a straight line."
        )
    return tuple(notes)
