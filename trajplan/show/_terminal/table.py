"""Cells laid out in columns, and lines in a list."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["WIDTH", "bullets", "table"]

#: Columns of a terminal that text is wrapped to.
WIDTH = 100


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Lay cells out in columns, numbers to the right.

    Parameters
    ----------
    head : sequence of str
        Column heads.
    rows : iterable of sequence of str
        Cells, as many in each row as there are heads.

    Returns
    -------
    str
        Lines without a final line break.
    """
    body = [list(row) for row in rows]
    widths = [max(len(row[i]) for row in [list(head), *body]) for i in range(len(head))]
    lines = []
    for row in [list(head), ["-" * w for w in widths], *body]:
        cells = [
            cell.rjust(w) if _numeric(cell) else cell.ljust(w)
            for cell, w in zip(row, widths, strict=True)
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def _numeric(cell: str) -> bool:
    return cell == "?" or cell.removeprefix("-")[:1].isdigit()


def bullets(lines: Iterable[str]) -> str:
    """Lines as a list, each wrapped for a terminal.

    Parameters
    ----------
    lines : iterable of str
        One sentence or more each.

    Returns
    -------
    str
    """
    return "\n".join(
        textwrap.fill(line, WIDTH, initial_indent="* ", subsequent_indent="  ") for line in lines
    )
