"""A plan as text for a terminal."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from itertools import chain
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.files import TOLD, worst_word
from trajplan.show._terminal.ct import ct_text
from trajplan.show._terminal.forces import force_text, option_text
from trajplan.show._terminal.plates import plate_text
from trajplan.show._terminal.table import WIDTH, bullets, table
from trajplan.show._words.numbers import number
from trajplan.show._words.places import place_text, side_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trajplan.files import FindingRecord, HoleRecord, PlanFile, ScrewRecord, WireRecord

__all__ = [
    "caution_text",
    "plan_text",
]


def caution_text() -> str:
    """The cautions, wrapped for a terminal.

    Returns
    -------
    str
    """
    return textwrap.fill(CAUTION_TEXT, WIDTH)


def _hole(hole: HoleRecord | None) -> str:
    return "-" if hole is None else f"{hole.diameter:g} to {hole.end:.1f}"


def plan_text(plan: PlanFile, *, most: int = 40) -> str:
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
    parts = [
        f"{plan.title or plan.case.name}: {plan.verdict.upper()}\n{side_text(plan)}.",
        _zone_lines(plan),
    ]
    if plan.screws:
        parts.append(_screw_table(plan.screws))
        parts.append(
            "Lengths in mm, angles in degrees. Holes: diameter to depth from the entry. "
            "Gauge: reading from the seat; gauge and tip '-' in a blind hole. '?': cannot be told."
        )
        parts.append(_reasons(plan.screws))
    if plan.wires:
        parts.append(_wire_table(plan.wires))
    parts.append(plate_text(plan))
    parts += [_entries(plan), _findings(plan, most)]
    parts += [force_text(plan), ct_text(plan), option_text(plan), _fits(plan)]
    if plan.tally and not plan.screws:
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


def _fits(plan: PlanFile) -> str:
    """How each pair of fragments fits."""
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
        for fit in plan.fracture.fits
    ]
    return "Reduction, in mm and degrees:\n" + table(head, rows) if rows else ""


def _length(screw: ScrewRecord) -> str:
    if screw.length is None:
        return "?"
    thread = screw.thread_length
    return f"{screw.length:g}" if thread is None else f"{screw.length:g}, thread {thread:g}"


def _screw_table(screws: Sequence[ScrewRecord]) -> str:
    head = (
        "id",
        "screw",
        "technique",
        "length",
        "gauge",
        "gliding/shank hole",
        "thread hole",
        "tip out",
        "turns",
        "tilt",
        "worst",
    )
    rows = [
        (
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
        for screw in screws
    ]
    return table(head, rows)


def _reasons(screws: Sequence[ScrewRecord]) -> str:
    """Why each screw was chosen, a paragraph each."""
    return "\n".join(
        textwrap.fill(f"Why {s.id}: {s.reason}", WIDTH, subsequent_indent="    ")
        for s in screws
        if s.reason
    )


def _entries(plan: PlanFile) -> str:
    """Where each entry lies, a paragraph each."""
    return "\n".join(
        textwrap.fill(
            f"Entry of {place.id}: {place_text(place, plan.bearings)}",
            WIDTH,
            subsequent_indent="    ",
        )
        for place in plan.places
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


def _findings(plan: PlanFile, most: int) -> str:
    told: dict[str, list[FindingRecord]] = {verdict: [] for verdict in TOLD}
    counts: Counter[str] = Counter()
    for finding in _every(plan):
        counts[finding.verdict] += 1
        if finding.verdict in told and len(told[finding.verdict]) < most:
            told[finding.verdict].append(finding)
    lines = [
        textwrap.fill(
            f"{f.verdict.upper():8s}{f.subject:6s} {f.rule}: {f.why}",
            WIDTH,
            subsequent_indent=" " * 15,
        )
        for f in list(chain(*told.values()))[:most]
    ]
    if (left := sum(counts[verdict] for verdict in TOLD) - most) > 0:
        lines.append(f"... and {left} more: see the plan file")
    return "\n".join([*lines, f"{counts['pass']} of {counts.total()} findings pass."])


def _every(plan: PlanFile) -> Iterator[FindingRecord]:
    yield from plan.findings
    for screw in plan.screws:
        yield from screw.findings
    for wire in plan.wires:
        yield from wire.findings
    for plate in plan.plates:
        yield from plate.findings
        for screw in plate.screws:
            yield from screw.findings


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
