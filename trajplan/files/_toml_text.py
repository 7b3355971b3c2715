"""TOML out: the tables of a case as text."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["toml_text"]

#: A key that stands without quotes (TOML 1.0, "Keys").
BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(data: Mapping[str, object]) -> str:
    """Tables as TOML.

    Parameters
    ----------
    data : mapping
        Text, finite numbers, truth values, lists and mappings, nested; no None.

    Returns
    -------
    str
        Lists of mappings become arrays of tables, mappings inside a table inline ones.
    """
    return "\n".join(_lines(data)).strip() + "\n"


def _lines(data: Mapping[str, object]) -> Iterator[str]:
    tables = {key: value for key, value in data.items() if isinstance(value, dict)}
    rows = {
        key: value
        for key, value in data.items()
        if isinstance(value, list) and value and all(isinstance(one, dict) for one in value)
    }
    for key, value in data.items():
        if key not in tables and key not in rows:
            yield f"{_key(key)} = {_value(value)}"
    for key, table in tables.items():
        yield from ("", f"[{_key(key)}]", *_inside(table))
    for key, entries in rows.items():
        for entry in entries:
            yield from ("", f"[[{_key(key)}]]", *_inside(entry))


def _inside(table: Mapping[str, object]) -> Iterator[str]:
    for key, value in table.items():
        if value is not None:
            yield f"{_key(key)} = {_value(value)}"


def _value(value: object) -> str:
    if isinstance(value, dict):
        inner = ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items() if v is not None)
        return f"{{ {inner} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    # JSON writes text, numbers and truth values as TOML reads them, but for the sign DEL
    return json.dumps(value, ensure_ascii=False, allow_nan=False).replace("\x7f", "\\u007f")


def _key(key: str) -> str:
    return key if BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)
