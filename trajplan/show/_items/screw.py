"""A screw to size: head, shank, thread, washer, hole and marks from its record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_vector
from trajplan.geometry import ring_offsets
from trajplan.show._items.item import line, solid_item
from trajplan.show._items.profile import TIP_SHARE, head_profile, tip_depth
from trajplan.show._items.solids import join, onto_axis, ridge, turned

if TYPE_CHECKING:
    from trajplan.arrays import Vec3
    from trajplan.files import ScrewRecord
    from trajplan.implants import Screw, Washer
    from trajplan.show._items.item import Item
    from trajplan.show._items.palette import Role
    from trajplan.show._items.solids import Solid

__all__ = ["screw_items"]

#: Gap between the thread and the ring that marks entry or exit, mm.
MARK_GAP = 0.7
#: The wall of a gliding hole is as wide as the thread; drawn apart so that both show, mm.
WALL_GAP = 0.06
#: How far the drawn axis reaches beyond head and tip, mm.
AXIS_REACH = 6.0


def screw_items(record: ScrewRecord, screw: Screw, washer: Washer | None) -> list[Item]:
    """Draw one screw.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    screw : Screw
        Its kind in the catalogue.
    washer : Washer or None
        The washer under its head.

    Returns
    -------
    list of Item
        Empty where the axis misses the bone; the axis alone where no length was found.
    """
    if record.entry is None:
        return []
    entry, direction = as_vector(record.entry), as_directions(record.direction)[0]
    marks = _marks(record, screw, entry, direction)
    tip = tip_depth(record, screw)
    if tip is None or record.seat is None:
        return marks
    top = record.seat - screw.head_height
    parts = _parts(record, screw, washer, tip)
    items = [
        solid_item(f"{record.id} {role}", role, onto_axis(solid, entry, direction))
        for role, solid in parts.items()
    ]
    reach = np.array([top - AXIS_REACH, tip + AXIS_REACH])
    text = f"{record.id}  {record.size}"
    return [
        *items,
        *marks,
        line(f"{record.id} axis", "axis", entry + reach[:, None] * direction),
        line(f"{record.id} label", "label", entry + np.outer([top, tip], direction), text),
    ]


def _parts(
    record: ScrewRecord, screw: Screw, washer: Washer | None, tip: float
) -> dict[Role, Solid]:
    seat = record.seat
    assert seat is not None
    start, end = (record.thread.start, record.thread.end) if record.thread else (tip, tip)
    core = screw.core_diameter / 2
    smooth = (screw.shank_diameter or screw.core_diameter) / 2
    point = turned(np.array([[end, core], [tip, TIP_SHARE * core], [tip, 0.0]]))
    shank = turned(np.array([[seat, smooth], [start, smooth], [start, 0.0]]))
    parts: dict[Role, Solid] = {
        "head": turned(head_profile(screw, seat)),
        "shank": join(shank, point),
    }
    if end > start:
        body = turned(np.array([[start, core], [end, core]]))
        crest = screw.thread_diameter / 2
        parts["thread"] = join(body, ridge(start, end, core, crest, screw.pitch))
    if washer is not None:
        parts["washer"] = _washer(washer, seat)
    if record.gliding_hole is not None:
        hole = record.gliding_hole
        wall = hole.diameter / 2 + WALL_GAP
        parts["gliding hole"] = turned(np.array([[hole.start, wall], [hole.end, wall]]))
    if record.thread_hole is not None:
        hole = record.thread_hole
        wall = hole.diameter / 2 + WALL_GAP
        parts["thread hole"] = turned(np.array([[hole.start, wall], [hole.end, wall]]))
    return parts


def _washer(washer: Washer, seat: float) -> Solid:
    low, high = seat, seat + washer.thickness
    inner, outer = washer.inner_diameter / 2, washer.outer_diameter / 2
    return turned(
        np.array([[low, inner], [low, outer], [high, outer], [high, inner], [low, inner]])
    )


def _marks(record: ScrewRecord, screw: Screw, entry: Vec3, direction: Vec3) -> list[Item]:
    """Rings round the axis where it enters and leaves the bone."""
    radius = np.array([screw.thread_diameter / 2 + MARK_GAP])
    ring = ring_offsets(direction[None], radius, 48)[0]
    closed = np.vstack([ring, ring[:1]])
    places = {"entry": entry}
    if record.exit is not None:
        places["exit"] = as_vector(record.exit)
    return [line(f"{record.id} {name}", "mark", at + closed) for name, at in places.items()]
