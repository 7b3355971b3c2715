"""A step of a drill sheet as a template that is filled from the plan's own fields."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from string import Formatter
from typing import TYPE_CHECKING

from trajplan.checks import NOT_REDUCED, named_by
from trajplan.show._items.plate import every_screw

if TYPE_CHECKING:
    from trajplan.files import PlanFile, ScrewRecord, WireRecord

__all__ = [
    "Draft",
    "Figure",
    "drillable",
    "failed_rules",
    "filled",
    "joined",
    "literal",
    "not_reduced",
    "placed",
    "ready_parts",
]

#: Fields that are sizes out of the catalogue, written as they are; all others are depths and
#: angles, written to one decimal.
SIZES = ("diameter", "length")


@dataclass(frozen=True, slots=True)
class Figure:
    """A number of a step."""

    of: str  # id of the screw or wire
    name: str  # field of its record, such as "gliding_hole.end"
    value: float  # as the plan holds it
    text: str  # as the step writes it


@dataclass(frozen=True, slots=True)
class Draft:
    """A step that has no number yet."""

    action: str
    text: str
    figures: tuple[Figure, ...] = ()


def placed(screw: ScrewRecord) -> bool:
    """Whether the plan says where a screw goes and how long it is.

    Parameters
    ----------
    screw : ScrewRecord
        The screw as planned.

    Returns
    -------
    bool
    """
    return screw.entry is not None and screw.length is not None and screw.seat is not None


def failed_rules(plan: PlanFile) -> dict[str, list[str]]:
    """Rules that screws and plates fail, alone or with another.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    dict of str to list of str
        Of each id the rules, none twice; empty for one that fails none.
    """
    own = {screw.id: screw.findings for screw in every_screw(plan)}
    own |= {plate.id: plate.findings for plate in plan.plates}
    failed = {
        name: [finding.rule for finding in findings if finding.verdict == "fail"]
        for name, findings in own.items()
    }
    for finding in plan.findings:
        if finding.verdict == "fail":
            for name in named_by(finding.subject, failed):
                failed[name].append(finding.rule)
    return {name: list(dict.fromkeys(rules)) for name, rules in failed.items()}


def drillable(plan: PlanFile) -> list[ScrewRecord]:
    """Screws that may be drilled as planned: they have a place, and no rule fails.

    None may where the fragments are not reduced; those of a plate only with the plate.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    list of ScrewRecord
    """
    ready = ready_parts(plan)
    return [screw for screw in every_screw(plan) if screw.id in ready]


def ready_parts(plan: PlanFile) -> set[str]:
    """Ids of the screws and plates that may be used as planned.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    set of str
    """
    if not_reduced(plan):
        return set()
    failed = failed_rules(plan)
    plates = {plate.id: plate for plate in plan.plates if not failed[plate.id]}
    screws = [*plan.screws, *(screw for plate in plates.values() for screw in plate.screws)]
    return {*plates, *(screw.id for screw in screws if placed(screw) and not failed[screw.id])}


def not_reduced(plan: PlanFile) -> list[str]:
    """Say why the fragments of a plan are not reduced: then nothing may be drilled.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    list of str
        A sentence for each rule that fails; empty where they are reduced, or not in pieces.
    """
    return [f.why for f in plan.findings if f.rule in NOT_REDUCED and f.verdict == "fail"]


def filled(action: str, record: ScrewRecord | WireRecord, template: str) -> Draft:
    """Fill the fields that a template names from a record, and keep them.

    Parameters
    ----------
    action : str
        One or two words.
    record : ScrewRecord or WireRecord
        Where the numbers are taken from.
    template : str
        Text with fields of the record in braces.

    Returns
    -------
    Draft
        A number that the record does not have is written "?".
    """
    text, figures = "", []
    for literal, name, _, _ in Formatter().parse(template):
        text += literal
        if name:
            value = attrgetter(name)(record)
            if value is None:
                text += "?"
                continue
            shown = f"{value:g}" if name.rsplit(".", 1)[-1] in SIZES else f"{value:.1f}"
            figures.append(Figure(record.id, name, value, shown))
            text += shown
    return Draft(action, text, tuple(figures))


def joined(first: Draft, *others: Draft) -> Draft:
    """Put what others say behind a step, with their numbers.

    Parameters
    ----------
    first : Draft
        The step.
    *others : Draft
        What is said after it.

    Returns
    -------
    Draft
    """
    parts = (first, *others)
    text = "".join(part.text for part in parts)
    return Draft(first.action, text, tuple(figure for part in parts for figure in part.figures))


def literal(text: str) -> str:
    """Keep braces of a name from being taken for a field.

    Parameters
    ----------
    text : str
        A name.

    Returns
    -------
    str
    """
    return text.replace("{", "{{").replace("}", "}}")
