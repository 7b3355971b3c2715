"""What a row of a study changes in its base case."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

__all__ = ["changes_bytes", "merged"]

#: Tables of which exactly one source may be given: naming another one replaces it.
SOURCES = {
    "bone": ("mesh", "fragments"),
    "fracture": ("plane", "points", "mesh", "group", "between"),
}


def merged(data: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Lay changes over the content of a case file.

    Parameters
    ----------
    data : mapping
        Keys of the case, tables nested, as its TOML file gives them.
    changes : mapping
        The same keys. Tables are merged key by key; a list takes the place of the whole
        list; a source of the bone or of the fracture takes the place of the one in `data`.

    Returns
    -------
    dict
        `data` and `changes` stay as they were.
    """
    kept = {name: _without_sources(name, value, changes) for name, value in data.items()}
    return _laid_over(kept, changes)


def changes_bytes(changes: Mapping[str, Any]) -> bytes:
    """Changes as bytes, the same for the same changes, to be hashed.

    Parameters
    ----------
    changes : mapping
        As TOML or CSV gave them.

    Returns
    -------
    bytes
        Empty where nothing is changed.
    """
    if not changes:
        return b""
    return json.dumps(changes, sort_keys=True, ensure_ascii=False, default=str).encode()


def _without_sources(name: str, table: Any, changes: Mapping[str, Any]) -> Any:  # noqa: ANN401 - any TOML value
    """Take a source out of a table where the changes name another one."""
    changed = changes.get(name)
    if not isinstance(table, Mapping) or not isinstance(changed, Mapping):
        return table
    named = [source for source in SOURCES.get(name, ()) if source in changed]
    dropped = [source for source in SOURCES.get(name, ()) if named and source not in named]
    return {key: value for key, value in table.items() if key not in dropped}


def _laid_over(data: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    both = dict(data)
    for key, value in changes.items():
        old = both.get(key)
        if isinstance(old, Mapping) and isinstance(value, Mapping):
            both[key] = _laid_over(old, value)
        else:
            both[key] = value
    return both
