"""A plan as text for a terminal."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from itertools import chain
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.files import TOLD, worst_word
from trajplan.show._terminal.ct import ct_rows, ct_text
from trajplan.show._terminal.forces import Forces, option_text
from trajplan.show._terminal.lines import LINES_WHOLE, LineCount
from trajplan.show._terminal.plates import plate_text
from trajplan.show._terminal.table import WIDTH, bullets, table
from trajplan.show._words.numbers import number
from trajplan.show._words.places import entry_of, place_text, side_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.files import (
        FindingRecord,
        FractureRecord,
        HoleRecord,
        PlanFile,
        PlateRecord,
        ScrewRecord,
        WireRecord,
    )

__all__ = [
    "caution_text",
    "check_text",
    "fits_text",
    "plan_text",
]


#: Columns of the table of screws.
SCREW_HEAD = (
    *("id", "screw", "technique", "length", "gauge", "gliding/shank hole", "thread hole"),
    *("protrudes", "turns", "tilt", "worst"),
)


def caution_text() -> str:
    """The cautions, wrapped for a terminal.

    Returns
    -------
    str
    """
    return textwrap.fill(CAUTION_TEXT, WIDTH)


def _hole(hole: HoleRecord | None) -> str:
    return "-" if hole is None else f"{hole.diameter:g} to {hole.end:.1f}"


def check_text(plan: PlanFile, *, every: bool = False) -> str:
    """A check for a person at a terminal; one of many lines is counted, see `LineCount`.

    Parameters
    ----------
    plan : PlanFile
        The check.
    every : bool
        Whether all lines of a long table are written out.

    Returns
    -------
    str
    """
    if len(plan.screws) <= LINES_WHOLE:
        return plan_text(plan)
    lines, told = LineCount(None if every else LINES_WHOLE), _Told(MOST)
    told.take(plan.findings)
    for screw in plan.screws:
        lines.take(screw)
    parts = [_head(plan), _zone_lines(plan), lines.text(), told.text(), fits_text(plan.fracture)]
    parts += ["Assumptions:\n" + bullets(plan.assumptions)] if plan.assumptions else []
    parts.append(bullets(plan.cautions))
    return "\n\n".join(part for part in parts if part)


#: Findings that are written out; the rest is counted.
MOST = 40


def _head(plan: PlanFile) -> str:
    return f"{plan.title or plan.case.name}: {plan.verdict.upper()}\n{side_text(plan)}."


def plan_text(plan: PlanFile, *, most: int = MOST) -> str:
    """A plan, or a check, for a person at a terminal.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    most : int
        Findings that are written out; the rest is counted.

    Returns
    -------
    str
    """
    parts = [_head(plan), _zone_lines(plan)]
    rows, why, forces, told = [], [], Forces(), _Told(most)
    measured: list[tuple[str, ...]] = []
    told.take(plan.findings)
    for screw in plan.screws:  # once: those of a long check are read from the disk
        rows.append(_screw_row(screw))
        why += _reason(screw)
        forces.take(screw)
        measured += ct_rows(screw)
        told.take(screw.findings)
    for wire in plan.wires:
        told.take(wire.findings)
    for plate in plan.plates:
        told.take(plate.findings)
        told.take_alike(plate)
    if rows:
        parts.append(table(SCREW_HEAD, rows))
        parts.append(
            "Lengths in mm, angles in degrees. Holes: diameter to depth from the entry. "
            "Gauge: reading from the seat; gauge and tip '-' in a blind hole. '?': cannot be told."
        )
        parts.append("\n".join(why))
    if plan.wires:
        parts.append(_wire_table(plan.wires))
    parts.append(plate_text(plan))
    parts += [_entries(plan), told.text(), forces.text(plan), ct_text(plan, measured)]
    parts += [option_text(plan), fits_text(plan.fracture)]
    if plan.tally and not plan.screws and not plan.plates:
        parts.append(_tally(plan))
    if plan.assumptions:
        parts.append("Assumptions:\n" + bullets(plan.assumptions))
    parts.append(bullets(plan.cautions))
    return "\n\n".join(part for part in parts if part)


def _zone_lines(plan: PlanFile) -> str:
    return "\n".join(
        f"Fracture {zone.id}: {zone.area:.0f} mm², rms {zone.rms:.2f} mm, normal "
        f"({zone.normal[0]:.3f}, {zone.normal[1]:.3f}, {zone.normal[2]:.3f})"
        for zone in plan.fracture.zones
    )


def fits_text(fracture: FractureRecord) -> str:
    """How each pair of fragments fits, for a person at a terminal.

    Parameters
    ----------
    fracture : FractureRecord
        The fracture.

    Returns
    -------
    str
        Empty where it does not lie between fragments.
    """
    head = (
        "fragments",
        "zones",
        "gap mean",
        "gap most",
        "step mean",
        "step most",
        "overlap",
        "turn",
    )
    rows = [
        (
            " + ".join(fit.fragments),
            " ".join(fit.zones),
            number(fit.gap.mean),
            number(fit.gap.largest),
            number(fit.step.mean),
            number(fit.step.largest),
            number(fit.overlap_depth),
            number(fit.turn),
        )
        for fit in fracture.fits
    ]
    return "Reduction, in mm and degrees:\n" + table(head, rows) if rows else ""


def _length(screw: ScrewRecord) -> str:
    if screw.length is None:
        return "?"
    thread = screw.thread_length
    return f"{screw.length:g}" if thread is None else f"{screw.length:g}, thread {thread:g}"


def _screw_row(screw: ScrewRecord) -> tuple[str, ...]:
    return (
        screw.id,
        screw.kind,
        screw.technique,
        _length(screw),
        "-" if screw.hold == "unicortical" else number(screw.gauge),
        _hole(screw.gliding_hole or screw.shank_hole),
        _hole(screw.thread_hole),
        "-" if screw.hold == "unicortical" else number(screw.proud_tip),
        number(screw.thread_turns),
        number(screw.tilt),
        worst_word(screw.findings),
    )


def _reason(screw: ScrewRecord) -> list[str]:
    """Why a screw was chosen, in a paragraph; nothing where it was given."""
    if not screw.reason:
        return []
    return [textwrap.fill(f"Why {screw.id}: {screw.reason}", WIDTH, subsequent_indent="    ")]


def _entries(plan: PlanFile) -> str:
    """Where each entry and each hole that tells of a plate lies, a paragraph each."""
    said = [(entry_of(place.id).removeprefix("the "), place) for place in plan.places]
    return "\n".join(
        textwrap.fill(
            f"{name[0].upper()}{name[1:]}: {place_text(place, plan.bearings)}",
            WIDTH,
            subsequent_indent="    ",
        )
        for name, place in said
    )


def _wire_table(wires: Sequence[WireRecord]) -> str:
    head = ("id", "wire", "depth", "fracture at", "holds near", "holds far", "tilt")
    rows = [
        (
            wire.id,
            wire.kind,
            number(math.dist(wire.entry, wire.exit)),
            number(wire.fracture_depth),
            number(wire.near_hold),
            number(wire.far_hold),
            number(wire.tilt),
        )
        for wire in wires
    ]
    return "Provisional wires, from entry to far wall:\n" + table(head, rows)


class _Told:
    """Findings taken down in order: those that are written out, and how many there are."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._told: dict[str, list[FindingRecord]] = {verdict: [] for verdict in TOLD}
        self._counts: Counter[str] = Counter()
        self._folded = 0  # counted, and told in the words of another

    def take(self, findings: Iterable[FindingRecord]) -> None:
        for finding in findings:
            self._counts[finding.verdict] += 1
            told = self._told.get(finding.verdict)
            if told is not None and len(told) < self._most:
                told.append(finding)

    def take_alike(self, plate: PlateRecord) -> None:
        """Findings on a plate's own screws: a note that several of them bear is written once."""
        every = [f for held in plate.screws for f in held.findings]
        self.take(f for f in every if f.verdict != "note")
        notes = [f for f in every if f.verdict == "note"]
        for rule in dict.fromkeys(f.rule for f in notes):
            first, *more = [f for f in notes if f.rule == rule]
            if more:
                names = ", ".join(dict.fromkeys(f.subject for f in more))
                first = first.model_copy(update={"why": f"{first.why} The like holds for {names}."})
            self.take([first])
            self._counts["note"] += len(more)
            self._folded += len(more)

    def text(self) -> str:
        lines = [
            textwrap.fill(
                f"{f.verdict.upper():8s}{f.subject:6s} {f.why} [{f.rule}]",
                WIDTH,
                subsequent_indent=" " * 15,
            )
            for f in list(chain(*self._told.values()))[: self._most]
        ]
        counts = self._counts
        left = sum(counts[verdict] for verdict in TOLD) - self._folded - self._most
        if left > 0:
            lines.append(f"... and {left} more: see the plan file")
        return "\n".join([*lines, f"{counts['pass']} of {counts.total()} findings pass."])


def _tally(plan: PlanFile) -> str:
    rows = [
        (
            tally.rule,
            str(tally.candidates),
            "-" if tally.nearest_miss is None else f"{tally.nearest_miss:.2f} {tally.unit}",
        )
        for tally in sorted(plan.tally, key=lambda t: -t.candidates)
    ]
    return table(("rule", "candidates turned away", "nearest miss"), rows)
