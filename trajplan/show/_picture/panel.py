"""What stands beside the picture: screws and findings."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.files import TOLD
from trajplan.show._items.plate import every_screw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.files import FindingRecord, PlanFile, PlateRecord, ScrewRecord

__all__ = ["finding_lines", "findings_text", "whole_findings"]


def findings_text(plan: PlanFile, *, width: int = 50, most: int = 25) -> str:
    """Say in words what a picture cannot show.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    width : int
        Letters in a line.
    most : int
        Lines at most; findings that do not fit are counted in the last one.

    Returns
    -------
    str
        Lines: the screws, then the findings, the gravest first.
    """
    lines = [part for screw in plan.screws for part in _screw_lines(screw, width)]
    lines += [part for plate in plan.plates for part in _plate_lines(plate, width)]
    own = [finding for screw in every_screw(plan) for finding in screw.findings]
    own += [finding for plate in plan.plates for finding in plate.findings]
    told = [f for word in TOLD for f in (*plan.findings, *own) if f.verdict == word]
    every = [["", *finding_lines(finding, width)] for finding in _once(told)]
    lines += whole_findings(every, most - len(lines), ": see the plan file")
    if not told:
        lines += ["", "Every rule passed."]
    return "\n".join(lines)


def whole_findings(findings: Sequence[list[str]], room: int, where: str) -> list[str]:
    """Tell as many findings as there is room for, none of them cut short.

    Parameters
    ----------
    findings : sequence of list of str
        Lines of each.
    room : int
        Lines at most.
    where : str
        Ends the last line where some are left out.

    Returns
    -------
    list of str
        Lines; the last one counts what is left out.
    """
    lines: list[str] = []
    for number, words in enumerate(findings):
        left = len(findings) - number
        if len(lines) + len(words) > room - (left > 1):
            return [*lines, f"... and {left} more{where}"]
        lines += words
    return lines


def _once(findings: list[FindingRecord]) -> list[FindingRecord]:
    """Drop repeats: a pair's finding may stand with the plan and its screws."""
    return list({(f.rule, f.subject, f.verdict): f for f in findings}.values())


def _screw_lines(screw: ScrewRecord, width: int) -> list[str]:
    if screw.entry is None or screw.length is None:
        return [f"{screw.id}  {screw.kind}: no screw fits this axis"]
    facts: list[str] = [screw.technique]
    if screw.gauge is not None:
        facts.append(f"gauge {screw.gauge:.1f} mm")
    if screw.tilt is not None:
        facts.append(f"tilt {screw.tilt:.1f}°")
    return textwrap.wrap(
        f"{screw.id}  {screw.size}: {', '.join(facts)}", width, subsequent_indent="    "
    )


def _plate_lines(plate: PlateRecord, width: int) -> list[str]:
    """What a plate does, which fragment comes first, and the screws on its two sides."""
    facts = [f"to {plate.work}"]
    if plate.work == "compress" and plate.first_fragment is not None:
        facts.append(f"{plate.first_fragment} first")
    if plate.overbend is not None and plate.overbend.estimate is not None:
        facts.append(f"overbend {plate.overbend.estimate:.1f} mm")
    low, high = plate.screws_each_side
    facts.append(f"{low} and {high} screws on its sides")
    text = f"{plate.id}  {plate.kind}, {plate.holes} holes: {', '.join(facts)}"
    return textwrap.wrap(text, width, subsequent_indent="    ")


def finding_lines(finding: FindingRecord, width: int) -> list[str]:
    """Write a finding in lines.

    Parameters
    ----------
    finding : FindingRecord
        The finding.
    width : int
        Letters in a line.

    Returns
    -------
    list of str
    """
    return textwrap.wrap(
        f"{finding.verdict.upper()}  {finding.subject}: {finding.why} [{finding.rule}]",
        width,
        subsequent_indent="  ",
    )
