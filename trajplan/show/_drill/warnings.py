"""What rules found that must be known before a step is done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.files import TOLD

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trajplan.files import FindingRecord, PlanFile

__all__ = ["one_answer", "warnings_of"]


def one_answer(plan: PlanFile) -> PlanFile:
    """A plan without the notes that it takes back elsewhere.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    PlanFile
        Where a rule cannot be told of a plate or of the screws, no sheet also notes of the others
        that all is well: who reads both believes the better one.
    """
    every = (*plan.findings, *(f for plate in plan.plates for f in plate.findings))
    untold = {finding.rule for finding in every if finding.verdict == "unknown"}

    def kept(findings: Iterable[FindingRecord]) -> tuple[FindingRecord, ...]:
        return tuple(f for f in findings if f.verdict != "note" or f.rule not in untold)

    plates = tuple(
        plate.model_copy(update={"findings": kept(plate.findings)}) for plate in plan.plates
    )
    return plan.model_copy(update={"findings": kept(plan.findings), "plates": plates})


def warnings_of(findings: Iterable[FindingRecord]) -> tuple[str, ...]:
    """Findings that are told, as sentences.

    Parameters
    ----------
    findings : iterable of FindingRecord
        Findings.

    Returns
    -------
    tuple of str
        The gravest first.
    """
    heard = sorted((f for f in findings if f.verdict in TOLD), key=lambda f: TOLD.index(f.verdict))
    return tuple(f"{finding.verdict.upper()}: {finding.why}" for finding in heard)
