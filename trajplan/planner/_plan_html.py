"""A plan as a plain table of HTML, for notebooks: no drawing, every word escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from trajplan.files import TOLD, worst_word

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.files import PlanFile, ScrewRecord

__all__ = ["plan_html"]

HEAD = ("id", "screw", "technique", "length mm", "gauge mm", "protrudes mm", "tilt °", "worst")


def plan_html(plan: PlanFile) -> str:
    """Write a plan as a table.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        HTML; titles and names of the case are escaped.
    """
    own = [finding for screw in plan.screws for finding in screw.findings]
    own += [finding for wire in plan.wires for finding in wire.findings]
    told = [f for verdict in TOLD for f in (*plan.findings, *own) if f.verdict == verdict]
    findings = _rows((f.verdict, f.subject, f.rule, f.why) for f in told)
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in plan.cautions)
    return (
        f"<table><caption>{escape(plan.title or plan.case.name)}: {escape(plan.verdict)}</caption>"
        f"{_row(HEAD, 'th')}{_rows(_screw(screw) for screw in plan.screws)}</table>"
        f"<table>{_row(('verdict', 'of', 'rule', 'why'), 'th')}{findings}</table>"
        f"<ul>{cautions}</ul>"
    )


def _screw(screw: ScrewRecord) -> tuple[str, ...]:
    return (
        screw.id,
        screw.kind,
        screw.technique,
        "?" if screw.length is None else f"{screw.length:g}",
        "-" if screw.hold == "unicortical" else _number(screw.gauge),
        "-" if screw.hold == "unicortical" else _number(screw.proud_tip),
        _number(screw.tilt),
        worst_word(screw.findings),
    )


def _number(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


def _rows(rows: Iterable[Sequence[str]]) -> str:
    return "".join(_row(row, "td") for row in rows)


def _row(cells: Sequence[str], tag: str) -> str:
    return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"
