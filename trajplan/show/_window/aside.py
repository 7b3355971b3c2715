"""What stands beside the window's picture: the screw picked, its findings, or the step."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.checks import named_by
from trajplan.files import TOLD
from trajplan.show._items.plate import every_finding, every_screw
from trajplan.show._picture.panel import finding_lines
from trajplan.show._words.numbers import number, span_text

if TYPE_CHECKING:
    from trajplan.files import FindingRecord, HoleRecord, PlanFile, ScrewRecord
    from trajplan.show._window.session import DrillStep, Session

__all__ = ["aside"]


def aside(session: Session, *, width: int) -> list[str]:
    """Say in words what the picture of a session cannot show.

    Parameters
    ----------
    session : Session
        The session.
    width : int
        Letters in a line.

    Returns
    -------
    list of str
        Lines: the drilling step shown, if any; the screw picked; findings, its own first.
    """
    lines: list[str] = []
    if session.step is not None:
        lines += [*_step(session.step, width), ""]
    if session.screw is not None:
        lines += [*_screw(session.screw, width), ""]
    told = _told(session.record, session.screw)
    lines += [line for finding in told for line in finding_lines(finding, width)]
    return lines if told else [*lines, "Every rule passed."]


def _step(drill: DrillStep, width: int) -> list[str]:
    head = f"Step {drill.step.number}. {drill.step.action}"
    return [*textwrap.wrap(drill.heading, width), head, *textwrap.wrap(drill.step.text, width)]


def _screw(screw: ScrewRecord, width: int) -> list[str]:
    if screw.entry is None:
        return [f"{screw.id}  {screw.kind}: the axis misses the bone"]
    if screw.length is None:
        head = f"{screw.id}  {screw.kind}, {screw.technique}: no stocked length fits"
    else:
        head = f"{screw.id}  {screw.size}"
        blind = screw.hold == "unicortical"
        gauge = "blind hole" if blind else f"gauge {number(screw.gauge)} mm"
        head += f", {screw.technique}, {gauge}"
    facts = [
        head,
        f"Gliding hole {_hole(screw.gliding_hole)}; thread hole {_hole(screw.thread_hole)}",
        f"Tip protrudes {number(screw.proud_tip)} mm; tilt {number(screw.tilt)}\N{DEGREE SIGN}",
        f"Purchase {number(screw.purchase)} mm, {number(screw.thread_turns)} turns",
        f"Holds {span_text(screw.holding)} N; presses {span_text(screw.squeeze)} N",
        f"Forgives {_forgiven(screw)}",
    ]
    return [part for fact in facts for part in textwrap.wrap(fact, width, subsequent_indent="  ")]


def _hole(hole: HoleRecord | None) -> str:
    return "none" if hole is None else f"{hole.diameter:g} mm to {hole.end:.1f}"


def _forgiven(screw: ScrewRecord) -> str:
    if screw.forgiving is None:
        return "? (not worked out since the move: press W)"
    tilt, shift = number(screw.forgiving.tilt), number(screw.forgiving.shift)
    return f"{tilt}\N{DEGREE SIGN} or {shift} mm"


def _told(plan: PlanFile, picked: ScrewRecord | None) -> list[FindingRecord]:
    """Findings that are no pass, the gravest first, among equals the picked screw's first."""
    ids = {screw.id for screw in every_screw(plan)}
    name = "" if picked is None else picked.id

    def weight(finding: FindingRecord) -> tuple[int, bool]:
        return TOLD.index(finding.verdict), name not in named_by(finding.subject, ids)

    return sorted((f for f in every_finding(plan) if f.verdict in TOLD), key=weight)
