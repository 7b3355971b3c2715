"""The digest that a plan file carries of its own content."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from pydantic import BaseModel

__all__ = [
    "APART",
    "ListDigest",
    "Pieces",
    "canonical",
    "content_digest",
    "of_keys",
    "value_digest",
]

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
    return of_keys({key: value_digest(data[key]) for key in data})


def of_keys(digests: Mapping[str, str]) -> str:
    """The digest of the whole, out of those of its values.

    Parameters
    ----------
    digests : mapping
        Key -> `value_digest`.

    Returns
    -------
    str
    """
    lines = (f"{key} {digests[key]}\n" for key in sorted(digests) if key not in APART)
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def value_digest(value: object) -> str:
    """The sha256 of one value in canonical JSON.

    Parameters
    ----------
    value : object
        What JSON can write, or `Pieces`.

    Returns
    -------
    str
    """
    if not isinstance(value, Pieces):
        return hashlib.sha256(canonical(value)).hexdigest()
    found = ListDigest()
    for piece in value:
        found.take(piece)
    return found.value()


class ListDigest:
    """`value_digest` of a list whose parts come one by one."""

    def __init__(self) -> None:
        self._found = hashlib.sha256(b"[")
        self._comma = b""

    def take(self, piece: object) -> None:
        """Take in the next part.

        Parameters
        ----------
        piece : object
            What JSON can write.
        """
        self._found.update(self._comma + canonical(piece))
        self._comma = b","

    def value(self) -> str:
        """The digest, once all parts were taken in.

        Returns
        -------
        str
        """
        whole = self._found.copy()
        whole.update(b"]")
        return whole.hexdigest()


class Pieces:
    """A list whose parts are turned to JSON one by one, for it may be long.

    Parameters
    ----------
    records : sequence of BaseModel
        The parts.
    """

    def __init__(self, records: Sequence[BaseModel]) -> None:
        self._records = records

    def __len__(self) -> int:
        return len(self._records)

    def __iter__(self) -> Iterator[dict[str, Any]]:
        return (record.model_dump(mode="json", by_alias=True) for record in self._records)


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
