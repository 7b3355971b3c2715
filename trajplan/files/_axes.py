"""The table of axes: lines that somebody else drew, to be checked."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from math import dist, isfinite
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from trajplan.arrays import as_points
from trajplan.errors import AxesFileError
from trajplan.files._csv import guarded, unguarded
from trajplan.files._output import write_text_atomic
from trajplan.implants import read_bytes, shown
from trajplan.outside import obeyed
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trajplan.arrays import Vec3s
    from trajplan.units import Unit

__all__ = ["COLUMNS", "AxesTable", "cells_table", "read_axes", "write_axes"]

COLUMNS = ("id", "kind", "technique", "x", "y", "z", "to_x", "to_y", "to_z")
HEADER = ",".join(COLUMNS)
TECHNIQUES = ("lag", "position")

#: mm; a line drawn on a bone has its points further apart, but 0.5 m read as mm has not. Far
#: nearer ones, the rounding of their coordinates would begin to turn the line.
LEAST_APART = 0.5
#: mm; as far apart as two points of a line through a bone may well be.
THROUGH_A_BONE = (5.0, 500.0)
#: mm; as far out as a mesh may reach (`trajplan.bone`).
FARTHEST = 1e7


@dataclass(frozen=True, slots=True, eq=False)
class AxesTable:
    """Axes as a table gives them; row i of every field belongs to axis i."""

    ids: tuple[str, ...]
    kinds: tuple[str, ...]
    techniques: tuple[str, ...]  # "lag" or "position"
    start: Vec3s  # (n, 3) mm, head side
    end: Vec3s  # (n, 3) mm, tip side
    rows: tuple[int, ...]  # line of the file, from 1
    file: Path | None = None  # where it was read from


@dataclass(frozen=True, slots=True)
class _Line:
    file: Path | None
    number: int
    cells: dict[str, str]

    def refuse(self, found: str, remedy: str) -> NoReturn:
        raise AxesFileError(found, remedy=remedy, file=self.file, where=f"row {self.number}")


def read_axes(path: str | Path, unit: Unit) -> AxesTable:
    """Read a table of axes.

    Parameters
    ----------
    path : str or Path
        CSV file with the header ``id,kind,technique,x,y,z,to_x,to_y,to_z``, in any order.
    unit : {"mm", "cm", "m", "inch"}
        Unit of its coordinates.

    Returns
    -------
    AxesTable

    Raises
    ------
    AxesFileError
        If the table is missing or empty, a column is missing or unknown, or a row has a
        hole, a number that is none, points that are equal or too near one another for the unit
        to be right, no id of its own or an unknown technique.
    """
    path = Path(path)
    return _table(_lines(path), unit, path)


def cells_table(rows: Sequence[Mapping[str, str]], unit: Unit) -> AxesTable:
    """A table of axes that a script made, read as strictly as one of a file.

    Parameters
    ----------
    rows : sequence of mapping
        Cells of each line, by the names of a file's header.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates.

    Returns
    -------
    AxesTable

    Raises
    ------
    AxesFileError
        If there is no line, or as `read_axes` says of a row.
    """
    if not rows:
        raise AxesFileError("there is no line", remedy="give at least one")
    return _table(
        [_line(None, i, list(row), list(row.values())) for i, row in enumerate(rows, 1)], unit
    )


def _table(lines: list[_Line], unit: Unit, file: Path | None = None) -> AxesTable:
    _check_ids(lines)
    ends = [_ends(line, unit) for line in lines]
    return AxesTable(
        ids=tuple(unguarded(line.cells["id"]) for line in lines),
        kinds=tuple(unguarded(line.cells["kind"]) for line in lines),
        techniques=tuple(_technique(line) for line in lines),
        start=as_points([start for start, _ in ends]),
        end=as_points([end for _, end in ends]),
        rows=tuple(line.number for line in lines),
        file=file,
    )


def write_axes(path: str | Path, table: AxesTable, unit: Unit) -> None:
    """Write a table of axes, so that reading it gives the same numbers to the last bit.

    Parameters
    ----------
    path : str or Path
        The file; its folder must exist.
    table : AxesTable
        What to write.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates in the file.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    path = Path(path)
    factor = Decimal(str(MM_PER_UNIT[unit]))
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    labels = zip(table.ids, table.kinds, table.techniques, strict=True)
    for label, start, end in zip(labels, table.start.tolist(), table.end.tolist(), strict=True):
        writer.writerow(
            [*map(guarded, label), *(str(Decimal(repr(v)) / factor) for v in start + end)]
        )
    write_text_atomic(path, text.getvalue())


def _lines(path: Path) -> list[_Line]:
    rows = _rows(path)
    if not rows:
        _refuse_file(
            path, "the file is empty", f"write the header {HEADER} and a row for each axis"
        )
    header = [cell.strip() for cell in rows[0][1]]
    _check_header(path, header)
    if len(rows) == 1:
        _refuse_file(path, "there is a header but no axis", "write one row for each axis")
    return [_line(path, number, header, cells) for number, cells in rows[1:]]


def _rows(path: Path) -> list[tuple[int, list[str]]]:
    content = read_bytes(path, AxesFileError)
    try:
        reader = csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""))
        return [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except (UnicodeDecodeError, csv.Error) as error:
        _refuse_file(path, f"this is no CSV text ({error})", "save the table as CSV in UTF-8")


def _refuse_file(path: Path, found: str, remedy: str) -> NoReturn:
    raise AxesFileError(found, remedy=remedy, file=path)


def _check_header(path: Path, header: list[str]) -> None:
    extra = [name for name in header if name not in COLUMNS]
    missing = [name for name in COLUMNS if name not in header]
    twice = [a for a, b in pairwise(sorted(header)) if a == b]
    if len(header) == 1 and any(mark in header[0] for mark in ";\t"):
        _refuse_file(
            path,
            "the cells are not parted by commas",
            "save the table with a comma between cells and a point in decimals",
        )
    if len(missing) == len(COLUMNS):
        _refuse_file(path, "the header is missing", f"let the first row be {HEADER}, with commas")
    if extra:
        _refuse_file(path, f'the column "{extra[0]}" is not known', f"keep only {HEADER}")
    if missing:
        _refuse_file(path, f'the column "{missing[0]}" is missing', f"let the header be {HEADER}")
    if twice:
        _refuse_file(path, f'the column "{twice[0]}" is there twice', "keep one of them")


def _line(path: Path | None, number: int, header: list[str], cells: list[str]) -> _Line:
    line = _Line(path, number, dict(zip(header, map(str.strip, cells), strict=False)))
    if len(cells) > len(header):
        line.refuse(
            f"there are {len(cells)} cells under {len(header)} columns",
            "take the others out; write decimals with a point, not a comma",
        )
    for name in header:
        if not line.cells.get(name):
            line.refuse(f'the cell "{name}" is empty', "fill it in, or take the row out")
        sign = next((c for c in line.cells[name] if obeyed(c)), None)
        if sign is not None:
            line.refuse(f'"{name}" holds the control character U+{ord(sign):04X}', "take it out")
    return line


#: What findings on a whole plan are on.
PLAN = "plan"


def _check_ids(lines: list[_Line]) -> None:
    first: dict[str, int] = {}
    for line in lines:
        name = unguarded(line.cells["id"])
        if name in first:
            line.refuse(f'the id "{name}" stands in row {first[name]} already', "give another id")
        if name == PLAN:
            line.refuse(f'the id "{name}" is what findings call all lines together', "give another")
        first[name] = line.number


def _technique(line: _Line) -> str:
    word = line.cells["technique"]
    if word not in TECHNIQUES:
        line.refuse(f"the technique is {shown(word)}", f"write {' or '.join(TECHNIQUES)}")
    return word


def _ends(line: _Line, unit: Unit) -> tuple[list[float], list[float]]:
    factor = Decimal(str(MM_PER_UNIT[unit]))
    numbers = [_number(line, name, factor) for name in COLUMNS[3:]]
    start, end = numbers[:3], numbers[3:]
    apart = dist(start, end)
    if apart == 0.0:
        line.refuse("the two points are equal", "give two points of the line, head side first")
    if apart < LEAST_APART:
        line.refuse(
            f"the two points are {apart:.2g} mm apart, with coordinates in {unit} as the case says",
            _likely(apart / MM_PER_UNIT[unit], unit) or "give points further apart on the line",
        )
    return start, end


def _likely(length: float, unit: Unit) -> str:
    """Name the units in which a length would be that of a line through a bone."""
    low, high = THROUGH_A_BONE
    fitting = [other for other, mm in MM_PER_UNIT.items() if low <= length * mm <= high]
    return f"if they are in {' or '.join(fitting)}, write them in {unit}" if fitting else ""


def _number(line: _Line, name: str, factor: Decimal) -> float:
    text = line.cells[name]
    try:
        # Scaled as a decimal, so that 0.1234 m is 123.4 mm, with one rounding at the end.
        value = float(Decimal(text) * factor) if "_" not in text else None
    except (ArithmeticError, ValueError):
        value = None
    if value is None:
        line.refuse(f"{name} is {shown(text)}, which is no number", "write a number such as 12.5")
    if not isfinite(value):
        line.refuse(f"{name} is {shown(text)}, which is not finite", "write a finite number")
    if abs(value) > FARTHEST:
        line.refuse(f"{name} is {shown(text)}, far from any bone", "write a coordinate of the case")
    return value
