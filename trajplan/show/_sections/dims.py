"""Dimensions of a section: the plan's numbers, each with the stretch that it measures."""

from __future__ import annotations

from dataclasses import dataclass
from math import dist
from typing import TYPE_CHECKING, Literal

from trajplan.show._items.profile import tip_depth

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.files import HoleRecord, ScrewRecord
    from trajplan.implants import Screw

__all__ = ["Dimension", "dimensions"]

#: mm; a stretch no longer than this is rounding, not a length to write down.
NOTHING = 0.05


@dataclass(frozen=True, slots=True)
class Dimension:
    """A length along the axis that a drawing states."""

    name: str
    start: float  # mm from the entry
    end: float
    of: Literal["bone", "screw"]  # on which side of the drawing it stands
    note: str = ""

    @property
    def length(self) -> float:
        """Length in mm."""
        return self.end - self.start

    @property
    def label(self) -> str:
        """What is written at the dimension line."""
        note = f" ({self.note})" if self.note else ""
        return f"{self.name} {self.length:.1f}{note}"


def dimensions(record: ScrewRecord, screw: Screw) -> tuple[Dimension, ...]:
    """Dimensions that a section of a screw states.

    Parameters
    ----------
    record : ScrewRecord
        The screw as planned.
    screw : Screw
        Its kind.

    Returns
    -------
    tuple of Dimension
        Of the bone first; none that the plan cannot tell, none shorter than rounding.
    """
    if record.entry is None or record.exit is None:
        return ()
    found = [
        *_bone(record, dist(record.entry, record.exit)),
        *_gauge(record),
        *_holes(record),
        *_thread(record),
        *_tip(record, screw),
    ]
    return tuple(d for d in found if d.length > NOTHING)


def _bone(record: ScrewRecord, exit_: float) -> Iterator[Dimension]:
    near, far = record.near_cortex, record.far_cortex
    if near is None or far is None or near.thickness is None or far.thickness is None:
        yield Dimension("bone", 0.0, exit_, "bone", "cortex not known")
    elif near.thickness + far.thickness >= exit_:
        yield Dimension("bone", 0.0, exit_, "bone", "" if near.basis == "modelled" else near.basis)
    else:
        note = "" if near.basis == "modelled" else near.basis
        inner = exit_ - far.thickness
        yield Dimension("near cortex", 0.0, near.thickness, "bone", note)
        between = "between the walls" if record.leaves_bone else "canal"
        yield Dimension(between, near.thickness, inner, "bone", note)
        yield Dimension("far cortex", inner, exit_, "bone", note)
    for start, end in record.unknown_intervals:
        yield Dimension("cannot be told", start, end, "bone")


def _gauge(record: ScrewRecord) -> Iterator[Dimension]:
    if record.seat is not None and record.gauge is not None:
        yield Dimension("gauge", record.seat, record.seat + record.gauge, "bone")


def _holes(record: ScrewRecord) -> Iterator[Dimension]:
    tap, thread = record.tap, record.thread_hole
    alike = tap is not None and thread is not None and _same(tap, thread)
    for name, hole, note in (
        ("gliding hole", record.gliding_hole, ""),
        ("shank hole", record.shank_hole, ""),
        ("thread hole", thread, "tapped" if alike else ""),
        ("tap", None if alike else tap, ""),
    ):
        if hole is not None:
            yield Dimension(_wide(name, hole.diameter), hole.start, hole.end, "screw", note)
    sunk = record.countersink
    if sunk is not None and record.seat is not None:
        low = record.seat - sunk.depth
        yield Dimension(_wide("countersink", sunk.diameter), low, record.seat, "screw")


def _wide(name: str, diameter: float) -> str:
    return f"{name} \N{DIAMETER SIGN}{diameter:g} \N{MULTIPLICATION SIGN}"


def _same(one: HoleRecord, other: HoleRecord) -> bool:
    return abs(one.start - other.start) < NOTHING and abs(one.end - other.end) < NOTHING


def _thread(record: ScrewRecord) -> Iterator[Dimension]:
    thread, fracture = record.thread, record.fracture_depth
    if thread is None or fracture is None:
        return
    note = "" if record.purchase is None else f"{record.purchase:.1f} of it in bone"
    start = max(thread.start, fracture.max)
    yield Dimension("thread beyond fracture", start, thread.end, "screw", note)


def _tip(record: ScrewRecord, screw: Screw) -> Iterator[Dimension]:
    tip, seat = tip_depth(record, screw), record.seat
    if tip is None or seat is None:
        return
    top = seat - screw.head_height if screw.length_from == "top" else seat
    yield Dimension("screw length", top, tip, "screw")
    if record.proud_tip is not None:
        wall = tip - record.proud_tip
        yield Dimension("tip protrudes", wall, tip, "screw")
        yield Dimension("short of the far surface", tip, wall, "screw")
