"""Tables as CSV that a spreadsheet may open: text stays text."""

from __future__ import annotations

import csv
import io
import re
from itertools import chain
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

__all__ = ["csv_lines", "csv_text", "guarded", "unguarded"]

Cell = TypeVar("Cell")

#: Text that a spreadsheet would take for a formula, or that an apostrophe already guards. These
#: are the characters that OWASP's page "CSV Injection" names (from memory).
FORMULA = re.compile(r"'*[=+\-@\t\r]")
GUARDED = re.compile(r"'+[=+\-@\t\r]")


def guarded(cell: Cell) -> Cell | str:
    """Put an apostrophe before text that a spreadsheet would work out.

    Parameters
    ----------
    cell : object
        What stands in a cell; a number is left as it is.

    Returns
    -------
    object
        `unguarded` gives every text back to the letter.
    """
    return f"'{cell}" if isinstance(cell, str) and FORMULA.match(cell) else cell


def unguarded(text: str) -> str:
    """Take the apostrophe of `guarded` away.

    Parameters
    ----------
    text : str
        Content of a cell.

    Returns
    -------
    str
    """
    return text[1:] if GUARDED.match(text) else text


def csv_text(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> str:
    """Write rows under a header.

    Parameters
    ----------
    columns : sequence of str
        The header; what a row holds besides is left out, and what it lacks stays empty.
    rows : iterable of mapping
        Column -> cell; text that looks like a formula is guarded.

    Returns
    -------
    str
    """
    return "".join(csv_lines(columns, rows))


def csv_lines(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> Iterator[str]:
    """Lines of `csv_text`, one by one: a long table is never held as a whole.

    Parameters
    ----------
    columns, rows
        As for `csv_text`.

    Yields
    ------
    str
        With its line end.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    cells = ([guarded(row.get(name)) for name in columns] for row in rows)
    for line in chain([columns], cells):
        writer.writerow(line)
        yield text.getvalue()
        text.seek(0)
        text.truncate()
