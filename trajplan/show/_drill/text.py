"""A drill sheet as plain text, to be printed or read at a terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.show._drill.sheet import DrillSheet, Step

__all__ = ["drill_sheet_text"]

#: Columns; fits a terminal and a printed page.
WIDTH = 88
#: Columns of a step's number and action.
ACTION = 18


def drill_sheet_text(sheet: DrillSheet) -> str:
    """Write a drill sheet as plain text.

    Parameters
    ----------
    sheet : DrillSheet
        The steps.

    Returns
    -------
    str
        Cautions first; ends with a line break.
    """
    lines = [
        f"DRILL SHEET: {sheet.title}",
        f"{sheet.side}.",
        f"Verdict of the plan: {sheet.verdict.upper()}",
        "",
    ]
    lines += _bullets(sheet.cautions)
    if sheet.warnings:
        lines += ["", *_bullets(sheet.warnings, "! ")]
    if sheet.before:  # there are steps
        lines += ["", "All depths in mm along the screw's axis, from where it meets the bone.", ""]
    lines += _steps(sheet.before)
    for screw in sheet.screws:
        lines += ["", screw.heading, *_bullets(screw.warnings, "! "), *_steps(screw.steps)]
    if sheet.after:
        lines += ["", "All screws" if len(sheet.screws) > 1 else "Last", *_steps(sheet.after)]
    return "\n".join(lines) + "\n"


def _bullets(sentences: Iterable[str], mark: str = "- ") -> Iterator[str]:
    for sentence in sentences:
        yield textwrap.fill(sentence, WIDTH, initial_indent=mark, subsequent_indent="  ")


def _steps(steps: Iterable[Step]) -> Iterator[str]:
    for step in steps:
        head = f"{step.number:3d}. {step.action:<{ACTION}}"
        indent = " " * len(head)
        yield textwrap.fill(
            step.text, WIDTH, initial_indent=head, subsequent_indent=indent, break_long_words=False
        )
