"""Which files trajplan wrote: a list in each folder, in the form that `sha256sum -c` reads."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

from trajplan.outside import file_id, is_file

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["OWN", "file_digest", "foreign_list", "is_own", "listed", "own_lines"]

#: Name of the list.
OWN = ".trajplan"
#: A line of it: sha256, two blanks, name (coreutils manual, "md5sum invocation").
LINE = re.compile(r"([0-9a-f]{64})  (.+)")


def is_own(path: Path) -> bool:
    """Whether trajplan wrote a file, and nobody changed it since.

    Parameters
    ----------
    path : Path
        A file that is there.

    Returns
    -------
    bool
    """
    known = listed(path.parent).get(path.name)
    return known is not None and file_digest(path) == known


def listed(folder: Path) -> dict[str, str]:
    """Files that trajplan wrote into a folder.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    dict
        Name -> sha256; empty where there is no list.
    """
    return _parsed(folder) or {}


def foreign_list(folder: Path) -> bool:
    """Whether something else stands under the name of the list.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    bool
    """
    return file_id(folder / OWN) is not None and _parsed(folder) is None


def _parsed(folder: Path) -> dict[str, str] | None:
    if not is_file(folder / OWN):
        return None
    try:
        text = (folder / OWN).read_text(encoding="utf-8")
    except (OSError, ValueError):
        return None
    lines = [LINE.fullmatch(line) for line in text.splitlines()]
    known = {line[2]: line[1] for line in lines if line is not None}
    return known if len(known) == len(lines) else None


def own_lines(files: Mapping[str, str]) -> str:
    """Text of the list.

    Parameters
    ----------
    files : mapping
        Name -> sha256.

    Returns
    -------
    str
    """
    return "".join(f"{digest}  {name}\n" for name, digest in sorted(files.items()))


def file_digest(path: Path) -> str | None:
    """The sha256 of a file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    str or None
        None where it cannot be read, or would never end.
    """
    if not is_file(path):
        return None
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except (OSError, ValueError):
        return None
