"""The manifest: a table of cases, each a base case and what differs from it."""

from __future__ import annotations

import csv
import io
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trajplan.batch._cells import cell_value, known_keys
from trajplan.batch._jobs import Job
from trajplan.errors import ManifestError
from trajplan.implants import nearest, parse_toml, read_bytes, shown
from trajplan.outside import real_path

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["read_manifest"]

#: Columns, or keys of a row, that are no keys of the case.
OWN = ("id", "case", "axes")
#: Keys of the case that hold a path; those of `[[joint]]` and `[[avoid]]` stand in their rows.
PATHS = (("bone", "mesh"), ("bone", "fragments"), ("fracture", "mesh"), ("catalogue",))
#: An id names a folder: no separators, nothing hidden, no blank or dot at its end.
ID = re.compile(r"[^\W_][\w .+-]{0,98}[\w+-]|[^\W_]")


@dataclass(frozen=True, slots=True)
class _Row:
    number: int  # line of a CSV file, or number of the `[[row]]`
    own: dict[str, Any]
    changes: dict[str, Any] = field(default_factory=dict)
    trouble: str = ""


def read_manifest(path: Path) -> list[Job]:
    """Read a manifest.

    Parameters
    ----------
    path : Path
        CSV with the columns ``id``, ``case`` and, as wanted, ``axes`` and keys of the case
        such as ``bone.mesh``, ``screws.count`` or ``limits.max_tilt``; an empty cell leaves
        the base as it is. Or TOML: ``base``, and a ``[[row]]`` for each case with ``id``,
        ``case`` in place of the base, ``axes`` and keys of the case as its file gives them.
        Paths start at the manifest.

    Returns
    -------
    list of Job
        One a row. A row that is wrong has a `trouble`.

    Raises
    ------
    ManifestError
        If the file as a whole cannot be used.
    """
    content = read_bytes(path, ManifestError)
    rows = _toml_rows(path, content) if path.suffix.lower() == ".toml" else _csv_rows(path, content)
    if not rows:
        raise ManifestError("it lists no case", remedy="write one row for each case", file=path)
    return [_job(path, row) for row in rows]


def _toml_rows(path: Path, content: bytes) -> list[_Row]:
    data = parse_toml(content, path, ManifestError)
    extra = [key for key in data if key not in {"base", "row"}]
    if extra:
        raise ManifestError(
            f'the key "{extra[0]}" is not known', remedy='keep "base" and [[row]]', file=path
        )
    rows = data.get("row", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise ManifestError('"row" is no list of tables', remedy="write [[row]]", file=path)
    return [
        _Row(
            number,
            {"case": data.get("base")} | {key: row[key] for key in OWN if key in row},
            {key: value for key, value in row.items() if key not in OWN},
        )
        for number, row in enumerate(rows, start=1)
    ]


def _csv_rows(path: Path, content: bytes) -> list[_Row]:
    try:
        reader = csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True)
        lines = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except (UnicodeDecodeError, csv.Error) as error:
        raise ManifestError(
            f"this is no CSV text ({error})", remedy="save the table as CSV in UTF-8", file=path
        ) from None
    if not lines:
        return []
    header = [cell.strip() for cell in lines[0][1]]
    keys = known_keys()
    _check_header(path, header, keys)
    return [_csv_row(number, header, cells, keys) for number, cells in lines[1:]]


def _check_header(path: Path, header: list[str], keys: Mapping[str, Any]) -> None:
    for name in header:
        if name not in OWN and name not in keys:
            raise ManifestError(
                f"the column {shown(name)} is no key of a case",
                remedy=nearest(name, [*OWN, *keys]),
                file=path,
            )
    twice = next((name for name in header if header.count(name) > 1), None)
    if twice is not None:
        raise ManifestError(
            f'the column "{twice}" is there twice', remedy="keep one of them", file=path
        )
    if "case" not in header:
        raise ManifestError(
            'the column "case" is missing',
            remedy="name the base case of each row there",
            file=path,
        )


def _csv_row(number: int, header: list[str], cells: list[str], keys: Mapping[str, Any]) -> _Row:
    texts = dict(zip(header, map(str.strip, cells), strict=False))
    own = {name: text for name, text in texts.items() if name in OWN and text}
    changes: dict[str, Any] = {}
    for name, text in texts.items():
        if name not in OWN and text:
            *tables, key = name.split(".")
            table = changes
            for part in tables:
                table = table.setdefault(part, {})
            table[key] = cell_value(keys[name], text)
    trouble = ""
    if len(cells) > len(header):
        trouble = (
            f"there are {len(cells)} cells under {len(header)} columns; quote cells with commas"
        )
    return _Row(number, own, changes, trouble)


def _job(path: Path, row: _Row) -> Job:
    name, trouble = _name(path, row)
    for key in ("case", "axes"):
        value = row.own.get(key)
        if not trouble and value is not None and not isinstance(value, str):
            trouble = f"{key} is {shown(value)}; give a path"
    if not trouble and row.own.get("case") is None:
        trouble = "no base case is named; fill in case"
    if trouble:
        return Job(name, None, trouble=f"{path.name}, row {row.number}: {trouble}")
    case = path.parent / row.own["case"]
    axes = path.parent / row.own["axes"] if "axes" in row.own else None
    return Job(name, case, _moved(row.changes, path.parent, case.parent), axes)


def _name(path: Path, row: _Row) -> tuple[str, str]:
    """Return the row's id, and what is wrong with the row so far."""
    default = f"{path.stem}-{row.number:04d}"
    given = row.own.get("id", default)
    if isinstance(given, str) and (given == default or ID.fullmatch(given)):
        return given, row.trouble
    return default, row.trouble or (
        f"the id is {shown(given)}; let it be a text of up to 100 letters, digits, spaces and ._+-"
    )


def _moved(changes: dict[str, Any], start: Path, goal: Path) -> dict[str, Any]:
    """Let paths that start at one folder start at another one, where the two differ."""
    if real_path(start) == real_path(goal):
        return changes
    moved = dict(changes)
    for table in ("joint", "avoid"):
        if isinstance(moved.get(table), list):
            moved[table] = [_with_paths(row, ("mesh",), start, goal) for row in moved[table]]
    for keys in PATHS:
        moved = _with_paths(moved, keys, start, goal)
    return moved


def _with_paths(table: Any, keys: tuple[str, ...], start: Path, goal: Path) -> Any:  # noqa: ANN401 - any TOML value
    if not isinstance(table, dict) or keys[0] not in table:
        return table
    value = table[keys[0]]
    if len(keys) > 1:
        new = _with_paths(value, keys[1:], start, goal)
    elif isinstance(value, list):
        new = [_path(item, start, goal) for item in value]
    else:
        new = _path(value, start, goal)
    return {**table, keys[0]: new}


def _path(value: Any, start: Path, goal: Path) -> Any:  # noqa: ANN401 - any TOML value
    if not isinstance(value, str) or Path(value).is_absolute():
        return value
    return Path(os.path.relpath(real_path(start / value), real_path(goal))).as_posix()
