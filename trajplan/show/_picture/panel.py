"""What stands beside the picture: screws and findings."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.files import FindingRecord, PlanFile, ScrewRecord

__all__ = ["findings_text"]

#: The order in which findings are told; a pass needs no words beside a picture.
TOLD = ("fail", "caution", "unknown")


def findings_text(plan: PlanFile, *, width: int = 50, most: int = 25) -> str:
    """Say in words what a picture cannot show.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    width : int
        Letters in a line.
    most : int
        Lines at most; what does not fit is counted in the last one.

    Returns
    -------
    str
        Lines: the screws, then the findings, the gravest first.
    """
    lines = [part for screw in plan.screws for part in _screw_lines(screw, width)]
    own = [finding for screw in plan.screws for finding in screw.findings]
    told = [f for word in TOLD for f in (*plan.findings, *own) if f.verdict == word]
    for finding in _once(told):
        lines += ["", *_finding_lines(finding, width)]
    if not told:
        lines += ["", "Every rule passed."]
    if len(lines) > most:
        left = sum(any(word.upper() in line for word in TOLD) for line in lines[most - 1 :])
        lines = [*lines[: most - 1], f"... and {left} more: see the plan file"]
    return "\n".join(lines)


def _once(findings: list[FindingRecord]) -> list[FindingRecord]:
    """Drop repeats: a pair's finding may stand with the plan and its screws."""
    return list({(f.rule, f.subject, f.verdict): f for f in findings}.values())


def _screw_lines(screw: ScrewRecord, width: int) -> list[str]:
    if screw.entry is None or screw.length is None:
        return [f"{screw.id}  {screw.kind}: no screw fits this axis"]
    facts = [f"{screw.length:g} mm", screw.technique]
    if screw.gauge is not None and screw.hold != "unicortical":  # no gauge hooks in a blind hole
        facts.append(f"gauge {screw.gauge:.1f} mm")
    if screw.tilt is not None:
        facts.append(f"tilt {screw.tilt:.1f}°")
    return textwrap.wrap(
        f"{screw.id}  {screw.kind}: {', '.join(facts)}", width, subsequent_indent="    "
    )


def _finding_lines(finding: FindingRecord, width: int) -> list[str]:
    return textwrap.wrap(
        f"{finding.verdict.upper()}  {finding.subject}, {finding.rule}: {finding.why}",
        width,
        subsequent_indent="  ",
    )
