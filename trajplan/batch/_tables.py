"""Tables of a whole batch: one row a case, one row a screw."""

from __future__ import annotations

import io
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from trajplan.batch._rows import CASE_COLUMNS
from trajplan.files import SCREW_COLUMNS, csv_text, write_bytes_atomic, write_text_atomic

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from trajplan.batch._outcome import Outcome

__all__ = ["TABLES", "write_tables"]

#: Names of the tables; those of Parquet are written where pyarrow is installed.
TABLES = ("cases.csv", "cases.parquet", "screws.csv", "screws.parquet")

#: Columns of both tables that are no float; all others are.
TEXTS = {
    *CASE_COLUMNS,
    *("id", "kind", "technique", "hold", "zone", "washer", "intervals", "unknown_intervals"),
    *("near_cortex_basis", "far_cortex_basis"),
} - {"screws"}
WHOLES = {"screws"}
TRUTHS = {"leaves_bone"}


def write_tables(out: Path, outcomes: Sequence[Outcome]) -> list[Path]:
    """Write the tables, CSV always, Parquet where pyarrow is installed.

    Parameters
    ----------
    out : Path
        Folder.
    outcomes : sequence of Outcome
        In the order of the rows.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    OutputError
        If a file cannot be written.
    """
    tables: dict[str, tuple[Sequence[str], list[Mapping[str, Any]]]] = {
        "cases": (CASE_COLUMNS, [outcome.row for outcome in outcomes]),
        "screws": (
            ("case", *SCREW_COLUMNS),
            [screw for outcome in outcomes for screw in outcome.screws],
        ),
    }
    files = []
    for name, (columns, rows) in tables.items():
        files.append(out / f"{name}.csv")
        write_text_atomic(files[-1], csv_text(columns, rows))
        if find_spec("pyarrow") is not None:
            files.append(out / f"{name}.parquet")
            write_bytes_atomic(files[-1], _parquet(columns, rows))
    return files


def _parquet(columns: Sequence[str], rows: Sequence[Mapping[str, Any]]) -> bytes:
    import pyarrow as pa
    from pyarrow import parquet

    def kind(name: str) -> pa.DataType:
        if name in TEXTS:
            return pa.string()
        if name in WHOLES:
            return pa.int64()
        return pa.bool_() if name in TRUTHS else pa.float64()

    schema = pa.schema([(name, kind(name)) for name in columns])
    table = pa.table(
        {name: [_cell(row.get(name), name) for row in rows] for name in columns}, schema=schema
    )
    buffer = io.BytesIO()
    parquet.write_table(table, buffer)
    return buffer.getvalue()


def _cell(value: object, name: str) -> object:
    """An empty cell of CSV is a null, so that both tables read alike."""
    return None if value == "" and name not in TEXTS else value
