"""Outline of a screw and of its holes in a section through the axis."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import MultiPolygon, Polygon, box

from trajplan.show._items.profile import TIP_SHARE, head_profile, tip_depth

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Floats
    from trajplan.files import ScrewRecord
    from trajplan.implants import Screw, Washer

__all__ = ["hole_outlines", "screw_outlines"]

#: mm; more than any countersink is deep, so that its outline reaches out of the bone.
ABOVE = 30.0


def screw_outlines(
    record: ScrewRecord, screw: Screw, washer: Washer | None
) -> Mapping[str, Polygon | MultiPolygon]:
    """Outlines of a screw's parts, coordinates (depth, offset) in mm.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    screw : Screw
        Its kind.
    washer : Washer or None
        The washer under its head.

    Returns
    -------
    mapping of str to Polygon
        Head, shank, thread (its envelope), core, tip, washer; empty where no length was found.
        The core's last stretch is the tip, whose taper is drawn, not measured.
    """
    tip, seat = tip_depth(record, screw), record.seat
    if tip is None or seat is None:
        return {}
    core = screw.core_diameter / 2.0
    smooth = (screw.shank_diameter or screw.core_diameter) / 2.0
    start, end = (record.thread.start, record.thread.end) if record.thread else (tip, tip)
    taper = tip - core  # the tip narrows over one core radius
    parts: dict[str, Polygon | MultiPolygon] = {}
    if start > seat:
        parts["shank"] = box(seat, -smooth, min(start, taper), smooth)
    if end > start:
        crest = screw.thread_diameter / 2.0
        parts["thread"] = box(start, -crest, end, crest)
        parts["core"] = box(start, -core, taper, core)
    parts["tip"] = _mirrored(np.array([[taper, core], [tip, TIP_SHARE * core]]))
    parts["head"] = _mirrored(head_profile(screw, seat))
    if washer is not None:
        inner, outer = washer.inner_diameter / 2.0, washer.outer_diameter / 2.0
        under = seat + washer.thickness
        parts["washer"] = MultiPolygon(
            [box(seat, inner, under, outer), box(seat, -outer, under, -inner)]
        )
    return parts


def hole_outlines(record: ScrewRecord, screw: Screw) -> Mapping[str, Polygon]:
    """Outlines of a screw's holes, coordinates (depth, offset) in mm.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    screw : Screw
        Its kind.

    Returns
    -------
    mapping of str to Polygon
        By name, only those that are drilled. A countersink is all that its cutter clears, up
        to `ABOVE` over the seat.
    """
    named = {
        "gliding hole": record.gliding_hole,
        "shank hole": record.shank_hole,
        "thread hole": record.thread_hole,
        "tap": record.tap,
    }
    holes = {
        name: box(hole.start, -hole.diameter / 2.0, hole.end, hole.diameter / 2.0)
        for name, hole in named.items()
        if hole is not None
    }
    if record.countersink is not None and record.seat is not None:
        curve = head_profile(screw, record.seat)[1:]
        top = [record.seat - ABOVE, record.countersink.diameter / 2.0]
        holes["countersink"] = _mirrored(np.vstack([top, curve]))
    return holes


def _mirrored(profile: Floats) -> Polygon:
    """Close a profile of depths and radii with its mirror image."""
    return Polygon(np.vstack([profile, (profile * [1.0, -1.0])[::-1]]))
