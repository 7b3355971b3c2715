"""Plain-text tables for a terminal."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.show._terminal.forces import force_text, option_text
from trajplan.show._terminal.table import WIDTH, table

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.bone import Audit, Body, Surface
    from trajplan.files import FindingRecord, HoleRecord, PlanFile, ScrewRecord, WireRecord
    from trajplan.fracture import Fracture
    from trajplan.implants import Catalogue, Screw

__all__ = [
    "audit_text",
    "bodies_text",
    "caution_text",
    "fracture_text",
    "plan_text",
    "screw_sources_text",
    "screws_text",
]

#: Verdicts in the order in which they are told; a screw is as bad as the worst but the notes.
WORST = ("fail", "caution", "unknown")
TOLD = (*WORST, "note")


def caution_text() -> str:
    """The cautions, wrapped for a terminal.

    Returns
    -------
    str
    """
    return textwrap.fill(CAUTION_TEXT, WIDTH)


def _number(value: float | None, digits: int = 1) -> str:
    return "?" if value is None else f"{value:.{digits}f}"


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
    parts = [f"{plan.title or plan.case.name}: {plan.verdict.upper()}", _zone_lines(plan)]
    if plan.screws:
        parts.append(_screw_table(plan.screws))
        parts.append(
            "Lengths in mm, angles in degrees. Holes: diameter to depth from the entry. "
            "Gauge: reading from the seat; gauge and tip '-' in a blind hole. '?': cannot be told."
        )
        parts.append(_reasons(plan.screws))
    if plan.wires:
        parts.append(_wire_table(plan.wires))
    parts.append(_findings(plan, most))
    parts += [force_text(plan), option_text(plan), _fits(plan)]
    if plan.tally and not plan.screws:
        parts.append(_tally(plan))
    if plan.assumptions:
        parts.append("Assumptions:\n" + _bullets(plan.assumptions))
    parts.append(_bullets(plan.cautions))
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
            _number(fit.gap.mean),
            _number(fit.gap.largest),
            _number(fit.step.mean),
            _number(fit.step.largest),
            _number(fit.overlap_depth),
            _number(fit.turn),
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
            "-" if screw.hold == "unicortical" else _number(screw.gauge),
            _hole(screw.gliding_hole or screw.shank_hole),
            _hole(screw.thread_hole),
            "-" if screw.hold == "unicortical" else _number(screw.proud_tip),
            _number(screw.thread_turns),
            _number(screw.tilt),
            next((v for v in WORST if any(f.verdict == v for f in screw.findings)), "pass"),
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


def _wire_table(wires: Sequence[WireRecord]) -> str:
    head = ("id", "wire", "depth", "fracture at", "holds near", "holds far", "tilt")
    rows = [
        (
            wire.id,
            wire.kind,
            _number(math.dist(wire.entry, wire.exit)),
            _number(wire.fracture_depth),
            _number(wire.near_hold),
            _number(wire.far_hold),
            _number(wire.tilt),
        )
        for wire in wires
    ]
    return "Provisional wires, from entry to far wall:\n" + table(head, rows)


def _findings(plan: PlanFile, most: int) -> str:
    own = [finding for screw in plan.screws for finding in screw.findings]
    own += [finding for wire in plan.wires for finding in wire.findings]
    every: list[FindingRecord] = [*plan.findings, *own]
    told = [finding for verdict in TOLD for finding in every if finding.verdict == verdict]
    passed = sum(finding.verdict == "pass" for finding in every)
    lines = [
        textwrap.fill(
            f"{f.verdict.upper():8s}{f.subject:6s} {f.rule}: {f.why}",
            WIDTH,
            subsequent_indent=" " * 15,
        )
        for f in told[:most]
    ]
    if len(told) > most:
        lines.append(f"... and {len(told) - most} more: see the plan file")
    return "\n".join([*lines, f"{passed} of {len(every)} findings pass."])


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


def _bullets(lines: Iterable[str]) -> str:
    return "\n".join(
        textwrap.fill(line, WIDTH, initial_indent="* ", subsequent_indent="  ") for line in lines
    )


def bodies_text(bodies: Sequence[Body], *, most: int = 20) -> str:
    """The bodies of a mesh for a person at a terminal, the largest first.

    Parameters
    ----------
    bodies : sequence of Body
        The bodies.
    most : int
        Bodies that are written out; the rest is counted.

    Returns
    -------
    str
    """
    head = ("body", "size mm", "middle mm", "area cm²", "faces", "closed")
    rows = []
    for body in sorted(bodies, key=lambda body: -body.area)[:most]:
        size, middle = body.size, (body.low + body.high) / 2.0
        rows.append(
            (
                str(body.number),
                " x ".join(f"{side:.1f}" for side in size),
                ", ".join(f"{at:.1f}" for at in middle),
                f"{body.area / 100:.1f}",
                f"{body.faces:,}",
                "yes" if body.closed else "no",
            )
        )
    left = len(bodies) - len(rows)
    rest = f"\nand {left} smaller" if left else ""
    return "Bodies (a case takes some with bone.body):\n" + table(head, rows) + rest


def audit_text(surface: Surface, audit: Audit, said: Sequence[str] = ()) -> str:
    """An audit for a person at a terminal.

    Parameters
    ----------
    surface : Surface
        The mesh.
    audit : Audit
        What was found.
    said : sequence of str
        Sentences that follow its cautions.

    Returns
    -------
    str
    """
    size = audit.high - audit.low
    yes = {True: "yes", False: "no"}
    volume = (
        "unknown, not closed" if audit.volume != audit.volume else f"{audit.volume / 1e3:.2f} cm³"
    )
    rows = [
        ("faces", f"{audit.faces:,}"),
        ("vertices", f"{audit.vertices:,} ({audit.merged:,} copies merged)"),
        ("size", f"{size[0]:.1f} x {size[1]:.1f} x {size[2]:.1f} mm"),
        ("coordinate step", f"{audit.step:.2g} mm" if audit.step else "double precision"),
        ("volume", volume),
        ("area", f"{audit.area / 100:.1f} cm²"),
        (
            "closed",
            yes[audit.closed] + (f", {audit.open_edges} open edges" if audit.open_edges else ""),
        ),
        ("winding agrees", yes[audit.wound]),
        ("inverted shells", str(audit.inverted)),
        ("degenerate faces", str(audit.degenerate)),
        ("duplicate faces", str(audit.duplicate)),
        ("bodies", str(audit.bodies)),
        ("canal modelled", yes[audit.canal]),
    ]
    if surface.groups:
        rows.append(
            ("groups", ", ".join(f"{name} ({len(f)})" for name, f in surface.groups.items()))
        )
    lines = "\n".join(f"{key:18s}{value}" for key, value in rows)
    return "\n".join(
        part for part in (surface.name, lines, _bullets((*audit.cautions, *said))) if part
    )


def fracture_text(fracture: Fracture) -> str:
    """A fracture for a person at a terminal.

    Parameters
    ----------
    fracture : Fracture
        The fracture.

    Returns
    -------
    str
    """
    rows = []
    for zone in fracture.zones:
        fit, n = zone.fit, zone.plane.normal
        bound = "exact" if math.isnan(fit.normal_bound) else f"{fit.normal_bound:.2f}"
        rows.append(
            (
                zone.id,
                f"{zone.area:.1f}",
                f"{fit.extents[0]:.1f} x {fit.extents[1]:.1f}",
                f"{n[0]:.4f} {n[1]:.4f} {n[2]:.4f}",
                bound,
                f"{fit.rms:.3f}",
                f"{fit.largest:.3f}",
                str(fit.left_out),
                fit.flatness,
            )
        )
    head = (
        "zone",
        "area mm²",
        "extents mm",
        "normal",
        "95 % bound deg",
        "rms mm",
        "largest mm",
        "left out",
        "shape",
    )
    return table(head, rows) + ("\n" + _bullets(fracture.cautions) if fracture.cautions else "")


def screws_text(catalogue: Catalogue) -> str:
    """The catalogue for a person at a terminal.

    Parameters
    ----------
    catalogue : Catalogue
        Screws, washers and wires.

    Returns
    -------
    str
    """

    def cell(value: float | None) -> str:
        return "?" if value is None else f"{value:g}"

    head = (
        "screw",
        "thread",
        "bone",
        "d",
        "core",
        "pitch",
        "head",
        "thread hole",
        "gliding hole",
        "shank hole",
        "partial thread",
        "lengths",
    )
    rows = [
        (
            s.kind,
            s.thread,
            s.bone,
            cell(s.thread_diameter),
            cell(s.core_diameter),
            cell(s.pitch),
            cell(s.head_diameter),
            cell(s.thread_hole),
            cell(s.gliding_hole),
            cell(s.shank_hole),
            " ".join(f"{v:g}" for v in s.thread_lengths) or "-",
            f"{s.lengths[0]:g} to {s.lengths[-1]:g}",
        )
        for s in catalogue.screws.values()
    ]
    washers = ", ".join(f"{w.id} ({w.outer_diameter:g})" for w in catalogue.washers.values())
    wires = ", ".join(f"{w.kind}" for w in catalogue.wires.values())
    return (
        f"{table(head, rows)}\n\nWashers (outer diameter): {washers}\nWires: {wires}\n"
        "All in mm. '?': no source names it. `trajplan screws KIND` tells where each value "
        "comes from."
    )


def screw_sources_text(screw: Screw) -> str:
    """One screw with the source of every value.

    Parameters
    ----------
    screw : Screw
        A screw of the catalogue.

    Returns
    -------
    str
    """
    rows = []
    for field, where in screw.sources.items():
        value = getattr(screw, field, None)
        if isinstance(value, tuple):
            shown = " ".join(f"{v:g}" for v in value) or "-"
        else:
            shown = "?" if value is None else str(value)
        source = where.source + (f" ({where.note})" if where.note else "")
        rows.append((field, shown, where.status, source))
    return f"{screw.kind}, mm\n" + table(("field", "value", "status", "source"), rows)
