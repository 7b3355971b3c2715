"""What comes in from files and goes out to a terminal: whole files, and plain characters."""

from __future__ import annotations

import os
import stat
import unicodedata
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.errors import InputError

__all__ = [
    "FileId",
    "file_id",
    "files_read",
    "is_file",
    "is_folder",
    "obeyed",
    "printable",
    "real_path",
    "regular_file",
]

#: Device and number of a file: the same under every name and link that it has.
FileId: TypeAlias = tuple[int, int]

#: Sets that note what is read, the innermost last.
_NOTED: list[set[FileId]] = []

#: What else stands under a name, by the test that tells it.
_OTHERS = (
    (stat.S_ISDIR, "a folder", "name a file inside it"),
    (stat.S_ISFIFO, "a pipe", "write what comes from it into a file, and name that"),
    (stat.S_ISSOCK, "a socket", "name a file"),
)

#: Characters that turn the direction of what follows on a line (Unicode Standard Annex 9,
#: sections 2.1 to 2.6): a number could be read backwards.
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def regular_file(path: Path, error: type[InputError]) -> os.stat_result:
    """Look at a file that is to be read, and note that it is.

    A pipe or a device would keep its reader waiting, or never end: only regular files are
    opened.

    Parameters
    ----------
    path : Path
        The file.
    error : type of InputError
        What to raise.

    Returns
    -------
    os.stat_result

    Raises
    ------
    InputError
        Of the kind asked for, if there is no such file, or it is none that ends.
    """
    try:
        found = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        raise error(
            "there is no such file", remedy="check its name and folder", file=path
        ) from None
    except (OSError, ValueError) as trouble:  # ValueError: a name with a null character
        why = trouble.strerror if isinstance(trouble, OSError) else trouble
        raise error(
            f"the file cannot be read ({why})", remedy="check its name and rights", file=path
        ) from None
    if not stat.S_ISREG(found.st_mode):
        kinds = ((kind, remedy) for test, kind, remedy in _OTHERS if test(found.st_mode))
        kind, remedy = next(kinds, ("a device", "name a file"))
        raise error(f"this is {kind}, not a file", remedy=remedy, file=path)
    for noted in _NOTED:
        noted.add((found.st_dev, found.st_ino))
    return found


@contextmanager
def files_read() -> Iterator[set[FileId]]:
    """Note what is read inside.

    Yields
    ------
    set of FileId
        Grows with every file that `regular_file` is asked about.
    """
    noted: set[FileId] = set()
    _NOTED.append(noted)
    try:
        yield noted
    finally:
        _NOTED.remove(noted)


def file_id(path: Path) -> FileId | None:
    """What tells a file apart under every name.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    FileId or None
        None where nothing is there.
    """
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino


def is_file(path: Path) -> bool:
    """Whether a regular file is there, and no pipe, device or folder.

    Parameters
    ----------
    path : Path
        Any path; one that no system takes is no file.

    Returns
    -------
    bool
    """
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def is_folder(path: Path) -> bool:
    """Whether a folder is there, whatever else the name may be.

    Parameters
    ----------
    path : Path
        Any path; one that no system takes is no folder.

    Returns
    -------
    bool
    """
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def real_path(path: Path) -> Path:
    """A path without links; unlike `Path.resolve` it takes a link that leads to itself.

    Parameters
    ----------
    path : Path
        Any path.

    Returns
    -------
    Path
        Absolute.
    """
    return Path(os.path.realpath(path))


def obeyed(character: str) -> bool:
    """Whether a terminal would obey a character instead of showing it.

    Parameters
    ----------
    character : str
        One character; line feed and tabulator belong to text.

    Returns
    -------
    bool
    """
    if character in "\n\t":
        return False
    return unicodedata.category(character) in ("Cc", "Cs") or character in _TURNING


def printable(text: str) -> str:
    r"""Text without characters that a terminal would obey.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        Each of them written out, such as ``\u001b``, so that JSON stays JSON.
    """
    if text.isprintable():
        return text
    return "".join(f"\\u{ord(c):04x}" if obeyed(c) else c for c in text)
