"""The digest that a plan file carries of its own content."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["APART", "canonical", "content_digest"]

#: Keys that it does not cover: the time of writing, which alone may differ, and itself.
APART = ("created", "digest")


def content_digest(data: Mapping[str, Any]) -> str:
    """The sha256 of what a plan file says, however it is laid out.

    Parameters
    ----------
    data : mapping
        The content of the file.

    Returns
    -------
    str
        Over one line for each key, in order: the key, a blank, and the sha256 of its value in
        canonical JSON.
    """
    lines = (
        f"{key} {hashlib.sha256(canonical(data[key])).hexdigest()}\n"
        for key in sorted(data)
        if key not in APART
    )
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def canonical(value: object) -> bytes:
    """JSON without blanks, keys in order, ASCII only.

    Parameters
    ----------
    value : object
        What JSON can write.

    Returns
    -------
    bytes
    """
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False).encode()
