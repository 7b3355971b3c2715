"""From the text of a table's cell to the value that a key of the case takes."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from trajplan.checks import LIMIT_NOTES
from trajplan.files import Case

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["cell_value", "known_keys"]


def known_keys() -> dict[str, Any]:
    """Keys of the case that a column may be named after, dotted, with their annotations.

    Returns
    -------
    dict
        ``"screws.count"`` and the like -> type annotation. Lists of tables (``[[joint]]``)
        stand under one key.
    """
    keys = dict(_keys(Case, ""))
    del keys["limits"]
    return keys | {f"limits.{name}": float for name in LIMIT_NOTES}


def cell_value(annotation: object, text: str) -> object:
    """Take the text of a cell as a value of the case.

    Parameters
    ----------
    annotation : type annotation
        Of the key.
    text : str
        Not empty.

    Returns
    -------
    object
        The text itself where the key takes a text; a list where it takes several, from a
        TOML list or split at semicolons; otherwise a TOML value such as ``4.5``, ``true`` or
        ``[0, 0, 110]``, or the text where it is none (the case then refuses it).
    """
    kinds = set(_kinds(annotation))
    if "list" in kinds and str in kinds:
        several = _toml(text)
        return several if isinstance(several, list) else [w.strip() for w in text.split(";")]
    return text if str in kinds else _toml(text)


def _toml(text: str) -> object:
    # A line break would let a cell bring keys of its own along.
    if "\n" in text or "\r" in text:
        return text
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text


def _keys(model: type[BaseModel], before: str) -> Iterator[tuple[str, Any]]:
    for name, field in model.model_fields.items():
        key = before + (field.alias or name)
        inner = [kind for kind in _kinds(field.annotation) if _is_model(kind)]
        if inner and "list" not in set(_kinds(field.annotation)):
            yield from _keys(inner[0], f"{key}.")
        else:
            yield key, field.annotation


def _is_model(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _kinds(annotation: Any) -> Iterator[Any]:  # noqa: ANN401 - any annotation
    """Plain types that an annotation is made of; "list" for a tuple or list."""
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        yield from _kinds(parts[0])
    elif origin is Literal:
        yield from {type(part) for part in parts}
    elif origin in {tuple, list}:
        yield "list"
        for part in parts:
            yield from _kinds(part)
    elif parts:
        for part in parts:
            yield from _kinds(part)
    else:
        yield annotation
