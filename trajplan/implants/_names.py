"""What a user typed: which names are equal, which known one was meant, how errors repeat it."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["kind_key", "nearest", "shown"]

#: Longest piece of a wrong value that an error repeats.
SHOWN = 60


def kind_key(kind: str) -> str:
    """Reduce a kind to what all its spellings share: neither spaces nor case count.

    Parameters
    ----------
    kind : str
        Such as ``HA 4.5``.

    Returns
    -------
    str
    """
    return "".join(kind.split()).casefold()


def nearest(word: str, known: Iterable[str], otherwise: str = "leave it out") -> str:
    """Remedy for an unknown name: the known ones that look most like it, then all.

    Parameters
    ----------
    word : str
        The name that is not known.
    known : iterable of str
        The names that are.
    otherwise : str
        What to do where none looks like it.

    Returns
    -------
    str
        The second half of an error's sentence.
    """
    names = {kind_key(name): name for name in known}
    close = difflib.get_close_matches(kind_key(word), names, n=3, cutoff=0.6)
    offer = " or ".join(f'"{names[key]}"' for key in close)
    listed = f"known are {', '.join(names.values()) or 'none'}"
    return f"write {offer} if that was meant; {listed}" if close else f"{otherwise}; {listed}"


def shown(value: object) -> str:
    """Repeat a wrong value as an error does, cut where it is long.

    Parameters
    ----------
    value : object
        Anything.

    Returns
    -------
    str
    """
    try:
        text = repr(value)
    except ValueError:  # Python does not print whole numbers of thousands of digits
        text = "a number too long to print"
    return text if len(text) <= SHOWN else text[: SHOWN - 3] + "..."
