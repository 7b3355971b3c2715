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
from itertools import count
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTIONS
from trajplan.show._drill.around import after, before
from trajplan.show._drill.draft import failed_rules, not_reduced, ready_parts
from trajplan.show._drill.order import blocks
from trajplan.show._drill.warnings import one_answer, warnings_of
from trajplan.show._words.places import side_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.files import PlanFile
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
    """Steps of one screw, or a stretch of those of a plate: the order of use is kept."""

    screw: str  # id of the screw or of the plate
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
    plan, numbers = one_answer(plan), count(1)
    failed, ready = failed_rules(plan), ready_parts(plan)
    some = any(part in ready for part in failed)
    first = tuple(_numbered(before(plan) if some else (), numbers))
    screws = [
        ScrewSteps(
            block.name, block.heading, block.warnings, tuple(_numbered(block.drafts, numbers))
        )
        for block in blocks(plan, catalogue, failed, ready)
    ]
    return DrillSheet(
        title=plan.title or plan.case.name,
        side=side_text(plan),
        verdict=plan.verdict,
        cautions=tuple(dict.fromkeys((*CAUTIONS, *plan.cautions))),
        warnings=(*_judgement(plan), *warnings_of(plan.findings)),
        before=first,
        screws=tuple(screws),
        after=tuple(_numbered(after(plan), numbers)),
    )


def _numbered(drafts: Iterable[Draft], numbers: Iterator[int]) -> Iterator[Step]:
    for draft in drafts:
        yield Step(next(numbers), draft.action, draft.text, draft.figures)


def _judgement(plan: PlanFile) -> tuple[str, ...]:
    if plan.verdict != "fail":
        return ()
    said = "This plan fails a rule: do not drill by it before that is settled."
    if not_reduced(plan):
        return (said, "The fragments are not reduced: no depth of it holds, so there are no steps.")
    every = [*(screw.id for screw in plan.screws), *(plate.id for plate in plan.plates)]
    ready = [name for name in every if name in ready_parts(plan)]
    left = [name for name in every if name not in ready]
    if not ready:
        return (said, "No screw of it may be drilled as planned, so there are no steps.")
    if left:
        part = (
            f"Steps follow for {', '.join(ready)} only. How the fragments are pressed, slide and "
            f"turn was judged with {', '.join(left)} as well, and was not judged without."
        )
        return (said, part)
    return (said,)
