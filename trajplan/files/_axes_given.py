"""Axes as a script hands them over: a file, columns by name, or two arrays of points."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TypeAlias, runtime_checkable

import numpy as np

from trajplan.errors import AxesFileError
from trajplan.files._axes import COLUMNS, AxesTable, cells_table, read_axes

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike

    from trajplan.files._case import Case

__all__ = ["AxesLike", "Columns", "axes_table"]

#: The part of the header that holds numbers: head side, then tip side.
POINTS = COLUMNS[3:]


@runtime_checkable
class Columns(Protocol):
    """Columns by name: a dict of lists, or a data frame of any library."""

    def keys(self) -> Iterable[str]:
        """Names of the columns."""

    def __getitem__(self, name: str, /) -> Iterable[object]:
        """The cells of a column."""


AxesLike: TypeAlias = "AxesTable | str | Path | Columns | Sequence[ArrayLike]"


def axes_table(axes: AxesLike, case: Case) -> AxesTable:
    """Axes in any form that a script may have them in.

    Parameters
    ----------
    axes : AxesTable, path, columns or two (n, 3) arrays
        A table that was read; a CSV file; columns by name as in such a file, of which `id`,
        `kind` and `technique` may be left out; or two arrays, a point of each line on the head's
        side and another towards the tip. Coordinates are in the case's unit.
    case : Case
        Gives the unit, and the kind and technique of lines that name none.

    Returns
    -------
    AxesTable
        Lines without an id are named by their number, from 1.

    Raises
    ------
    AxesFileError
        As `read_axes`; also if the columns differ in length, the arrays are no points, or no kind
        is named and the case allows several.
    """
    if isinstance(axes, AxesTable):
        return axes
    if isinstance(axes, str | Path):
        return read_axes(axes, case.unit)
    given = _of_columns(axes) if isinstance(axes, Columns) else _of_arrays(axes)
    lengths = {len(column) for column in given.values()}
    if len(lengths) > 1:
        raise AxesFileError(
            f"the columns differ in length ({', '.join(map(str, sorted(lengths)))})",
            remedy="give each line a cell in every column",
        )
    count = lengths.pop()
    usual = {
        "id": [str(i + 1) for i in range(count)],
        "kind": [] if "kind" in given else [_only_kind(case)] * count,
        "technique": [case.screws.technique] * count,
    }
    columns = usual | given
    return cells_table(
        [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)],
        case.unit,
    )


def _of_arrays(ends: Sequence[ArrayLike]) -> dict[str, list[str]]:
    try:
        points = [np.atleast_2d(np.asarray(end, dtype=np.float64)) for end in ends]
    except (TypeError, ValueError):
        raise AxesFileError(
            f"lines cannot be read from {type(ends).__name__}",
            remedy="give a file, columns by name, or two arrays of points",
        ) from None
    if len(points) != 2 or any(p.ndim != 2 or p.shape[1] != 3 for p in points):
        raise AxesFileError(
            f"found arrays of the shapes {', '.join(str(p.shape) for p in points)}",
            remedy="give two of (n, 3): points on the head's side, and points towards the tip",
        )
    columns = [points[0][:, i] for i in range(3)] + [points[1][:, i] for i in range(3)]
    return {name: _cells(column) for name, column in zip(POINTS, columns, strict=True)}


def _of_columns(table: Columns) -> dict[str, list[str]]:
    names = list(table.keys())
    extra = [name for name in names if name not in COLUMNS]
    missing = [name for name in POINTS if name not in names]
    if extra or missing:
        raise AxesFileError(
            f'the column "{extra[0]}" is not known'
            if extra
            else f'the column "{missing[0]}" is missing',
            remedy=f"name the columns {', '.join(COLUMNS)}; the first three may be left out",
        )
    return {name: _cells(table[name]) for name in names}


def _cells(column: Iterable[object]) -> list[str]:
    """A column as the text of a file: the shortest that gives the same number back."""
    cells = column.tolist() if isinstance(column, np.ndarray) else list(column)
    return [repr(float(c)) if isinstance(c, float) else str(c).strip() for c in cells]


def _only_kind(case: Case) -> str:
    kinds = case.screws.kinds
    if len(kinds) > 1:
        raise AxesFileError(
            f"no kind is named, and the case allows {', '.join(kinds)}",
            remedy="give the column kind, or one kind in screws.kinds",
        )
    return kinds[0]
