"""The first page of a report, filled so that it fits one sheet of paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.show._picture.first import DRILL_HEADS, first_page, fitting

if TYPE_CHECKING:
    from trajplan.files import FindingRecord, PlanFile
    from trajplan.show._picture.first import FirstPage

__all__ = ["Front", "front_of"]

#: Lines that sheet A4 has left under header and pictures, for table, places and decisions; and
#: letters to a line of each. Measured on what WeasyPrint prints.
LINES, LETTERS = 30, 104
#: Lines that a row of the drill table takes, and its head.
ROW_LINES, HEAD_LINES = 1.5, 2.0


@dataclass(frozen=True, slots=True)
class Front:
    """What the first page shows."""

    words: FirstPage
    heads: tuple[str, ...]
    places: tuple[tuple[str, str], ...]  # screw, where its entry lies; none where they do not fit
    told: tuple[FindingRecord, ...]
    left: int  # what asks for a decision and has no room


def front_of(plan: PlanFile, places: dict[str, str]) -> Front:
    """Choose what fits the first page.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    places : dict of str to str
        Where the entry of each screw lies, in words.

    Returns
    -------
    Front
        Decisions come first; the places of the entries stand here only if all of them fit
        beside the decisions, and under their screws in any case.
    """
    words = first_page(plan)
    room = LINES - HEAD_LINES - ROW_LINES * len(words.rows)
    told, left = fitting(words.decisions, int(room), lambda f: _lines(f.subject + f.why))
    room -= sum(_lines(f.subject + f.why) for f in told) + (left > 0)
    entries = tuple((row[0], places[row[0]]) for row in words.rows if row[0] in places)
    if sum(_lines(name + text) for name, text in entries) > room:
        entries = ()
    return Front(words, DRILL_HEADS, entries, told, left)


def _lines(text: str) -> int:
    return 1 + (len(text) + 12) // LETTERS
