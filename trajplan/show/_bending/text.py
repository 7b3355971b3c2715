"""A bending sheet as plain text, to be printed or read at a terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.show._terminal.table import table

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.show._bending.sheet import BendingSheet, PlateBends

__all__ = ["BEND_KEY", "HEADS", "bend_rows", "bending_sheet_text"]

#: Columns; fits a terminal and a printed page.
WIDTH = 88
#: Columns of a step's action.
ACTION = 15
#: Heads of the table of bridges.
HEADS = ("holes", "mm from end", "flatwise", "twist", "")


def bending_sheet_text(sheet: BendingSheet) -> str:
    """Write a bending sheet as plain text.

    Parameters
    ----------
    sheet : BendingSheet
        The bends.

    Returns
    -------
    str
        Cautions first; ends with a line break.
    """
    lines = [
        f"BENDING SHEET: {sheet.title}",
        f"{sheet.side}.",
        f"Verdict of the plan: {sheet.verdict.upper()}",
        "",
    ]
    lines += _wrapped(sheet.cautions, "- ")
    if not sheet.plates:
        lines += ["", "The plan has no plate: a [[plate]] in the case asks for one."]
    for plate in sheet.plates:
        lines += ["", *_wrapped([plate.heading], "")]
        if plate.steps:
            lines += [
                "",
                table(HEADS, bend_rows(plate)),
                "",
                *_wrapped([BEND_KEY], ""),
                "",
                *_steps(plate),
            ]
    return "\n".join(lines) + "\n"


BEND_KEY = (
    "Bends in degrees. Down: the ends bend towards the bone. Clockwise: seen from hole 1, top "
    "side up, the part beyond turns so."
)


def bend_rows(plate: PlateBends) -> list[tuple[str, ...]]:
    """Rows of the table of bridges.

    Parameters
    ----------
    plate : PlateBends
        The plate.

    Returns
    -------
    list of tuple of str
        Holes, place, flatwise bend, twist, and what else is to be known.
    """
    return [
        (
            b.name,
            f"{b.at:.0f}",
            b.bend_words,
            b.twist_words,
            _note(plate, over=b.over),
        )
        for b in plate.bridges
    ]


def _note(plate: PlateBends, *, over: bool) -> str:
    if not over:
        return ""
    more = "" if plate.overbend is None else f"; overbend {plate.overbend:.1f} on top, last"
    return f"over the fracture{more}"


def _wrapped(sentences: Iterable[str], mark: str) -> Iterator[str]:
    for sentence in sentences:
        yield textwrap.fill(sentence, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))


def _steps(plate: PlateBends) -> Iterator[str]:
    for step in plate.steps:
        head = f"{step.number:3d}. {step.action:<{ACTION}}"
        yield textwrap.fill(
            step.text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head)
        )
