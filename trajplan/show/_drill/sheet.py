"""Drill sheet: the steps of a plan in the order in which they are done.

Order and words follow the technique (gliding hole first, then the thread hole through a
sleeve in it, countersink, gauge, tap, screw: common practice). Every number is taken from
the plan by the name of its field, and kept beside the text.

References
----------
.. [1] Wheeless' Textbook of Orthopaedics, lag screw theory; cancellous screws 4.5 and 6.5:
   drills, gliding hole as wide as the thread, a deep thread tapped in the near cortex only.
.. [2] AO Foundation, online surgery reference: tibial shaft, screw length (measure the longer
   side); lag screw fixation (small animal) (countersink); canine proximal femur, lag screw
   fixation (a screw that reaches the bottom of a blind hole does not press; no countersink in
   soft bone); malleoli, lag screw (where a washer is used).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain, count
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTIONS
from trajplan.files import TOLD
from trajplan.implants import find_screw
from trajplan.show._drill.around import after, before
from trajplan.show._drill.draft import drillable, failed_rules, not_reduced, placed
from trajplan.show._drill.entry import mark_entry
from trajplan.show._drill.steps import per_screw
from trajplan.show._words.places import side_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.files import FindingRecord, PlanFile, ScrewRecord
    from trajplan.implants import Catalogue
    from trajplan.show._drill.draft import Draft, Figure

__all__ = ["DrillSheet", "ScrewSteps", "Step", "drill_sheet"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step; numbers run through the whole sheet."""

    number: int
    action: str  # one or two words
    text: str
    figures: tuple[Figure, ...]  # every number of the text, as the plan holds it


@dataclass(frozen=True, slots=True)
class ScrewSteps:
    """Steps of one screw."""

    screw: str  # id
    heading: str
    warnings: tuple[str, ...]  # what rules found that must be known before it is drilled
    steps: tuple[Step, ...]  # none where the screw has no place, or fails a rule


@dataclass(frozen=True, slots=True)
class DrillSheet:
    """A plan as steps."""

    title: str
    side: str  # of the body, and the frame
    verdict: str
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]  # of the plan as a whole
    before: tuple[Step, ...]
    screws: tuple[ScrewSteps, ...]
    after: tuple[Step, ...]


def drill_sheet(plan: PlanFile, catalogue: Catalogue) -> DrillSheet:
    """Write the steps of a plan.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    catalogue : Catalogue
        Where its screws and washers are found.

    Returns
    -------
    DrillSheet

    Raises
    ------
    CatalogueError
        If the catalogue lacks a kind that the plan names.
    """
    numbers = count(1)
    ready, failed = {screw.id for screw in drillable(plan)}, failed_rules(plan)
    lag = [screw.id for screw in plan.screws if screw.technique == "lag" and screw.id in ready]
    first = tuple(_numbered(before(plan) if ready else (), numbers))
    screws = []
    for screw in plan.screws:
        kind = find_screw(catalogue, screw.kind)
        drafts: Iterable[Draft] = ()
        if screw.id in ready:
            own = per_screw(screw, kind, several=len(lag) > 1)
            drafts = chain(mark_entry(plan, screw.id), own)
        steps = tuple(_numbered(drafts, numbers))
        heading = _heading(screw, failed[screw.id], reduced=not not_reduced(plan))
        screws.append(ScrewSteps(screw.id, heading, _warnings(screw.findings), steps))
    return DrillSheet(
        title=plan.title or plan.case.name,
        side=side_text(plan),
        verdict=plan.verdict,
        cautions=tuple(dict.fromkeys((*CAUTIONS, *plan.cautions))),
        warnings=(*_judgement(plan), *_warnings(plan.findings)),
        before=first,
        screws=tuple(screws),
        after=tuple(_numbered(after(plan), numbers)),
    )


def _numbered(drafts: Iterable[Draft], numbers: Iterator[int]) -> Iterator[Step]:
    for draft in drafts:
        yield Step(next(numbers), draft.action, draft.text, draft.figures)


def _heading(screw: ScrewRecord, failed: list[str], *, reduced: bool) -> str:
    if screw.entry is None:
        return f"{screw.id}: {screw.kind}, the axis misses the bone: no steps"
    if not placed(screw):
        return f"{screw.id}: {screw.kind}, no length was found: no steps"
    if failed:
        rules = ", ".join(failed)
        return f"{screw.id}: {screw.size}, NOT TO BE DRILLED as planned, it fails {rules}: no steps"
    if not reduced:
        return f"{screw.id}: {screw.size}, NOT TO BE DRILLED before the reduction: no steps"
    washer = f", washer {screw.washer}" if screw.washer else ""
    hold = f", {screw.hold}" if screw.hold else ""
    return f"{screw.id}: {screw.size}, {screw.technique} screw{hold}{washer}"


def _judgement(plan: PlanFile) -> tuple[str, ...]:
    if plan.verdict != "fail":
        return ()
    said = "This plan fails a rule: do not drill by it before that is settled."
    if not_reduced(plan):
        return (said, "The fragments are not reduced: no depth of it holds, so there are no steps.")
    ready = [screw.id for screw in drillable(plan)]
    left = [screw.id for screw in plan.screws if screw.id not in ready]
    if not ready:
        return (said, "No screw of it may be drilled as planned, so there are no steps.")
    if left:
        part = (
            f"Steps follow for {', '.join(ready)} only. How the fragments are pressed, slide and "
            f"turn was judged with {', '.join(left)} as well, and was not judged without."
        )
        return (said, part)
    return (said,)


def _warnings(findings: Iterable[FindingRecord]) -> tuple[str, ...]:
    heard = sorted((f for f in findings if f.verdict in TOLD), key=lambda f: TOLD.index(f.verdict))
    return tuple(f"{finding.verdict.upper()}: {finding.why}" for finding in heard)
