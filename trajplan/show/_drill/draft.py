"""A step of a drill sheet as a template that is filled from the plan's own fields."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from string import Formatter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trajplan.files import ScrewRecord, WireRecord

__all__ = ["Draft", "Figure", "drillable", "filled", "literal"]

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


def drillable(screw: ScrewRecord) -> bool:
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
