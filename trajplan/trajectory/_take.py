"""Some rows of what was worked out for many axes, without working it out again."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Ints

__all__ = ["taken"]

Part = TypeVar("Part")


def taken(part: Part, rows: Ints) -> Part:
    """Take rows of every array of a record, and of the records in it.

    Parameters
    ----------
    part : dataclass
        A record whose arrays have a row for each of ``n`` axes; a record in it that keeps
        its rows otherwise has a ``take`` of its own.
    rows : (m,) int array
        Rows to take, in any order.

    Returns
    -------
    dataclass
        Of the same type, with ``m`` rows; what is no array stays as it is.
    """
    values = {field.name: getattr(part, field.name) for field in fields(part)}  # type: ignore[arg-type]
    return replace(part, **{name: _rows_of(value, rows) for name, value in values.items()})  # type: ignore[type-var]


def _rows_of(value: Any, rows: Ints) -> Any:  # noqa: ANN401 - a field of any type
    if isinstance(value, np.ndarray):
        return value[rows]
    if hasattr(value, "take"):
        return value.take(rows)
    return taken(value, rows) if is_dataclass(value) else value
