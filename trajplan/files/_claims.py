"""Where files may be written: looked at before any work is done."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.errors import OutputError
from trajplan.files._own import OWN, foreign_list, is_own, listed
from trajplan.outside import file_id, is_folder, real_path

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "a_folder",
    "apart",
    "claim",
    "is_there",
    "no_folder",
    "no_folder_there",
    "output_folder",
    "reason",
]


def claim(files: Iterable[Path], *, force: bool = False) -> None:
    """Refuse, before any work is done, to write over a file that trajplan did not write.

    Parameters
    ----------
    files : iterable of Path
        What is to be written.
    force : bool
        Whether it was asked for all the same.

    Raises
    ------
    OutputError
        If one is there, and is not as trajplan left it, or is a folder.
    """
    for path in files:
        no_folder_there(path)
        if force:
            continue
        if foreign_list(path.parent):
            raise OutputError(
                f'trajplan lists its files under the name "{OWN}", and this is another file',
                remedy="rename it, or name another folder",
                file=path.parent / OWN,
            )
        if file_id(path) is not None and not is_own(path):
            changed = path.name in listed(path.parent)
            raise OutputError(
                "this file was changed since trajplan wrote it"
                if changed
                else "there is a file of this name that trajplan did not write",
                remedy="name another, or write over it with --force",
                file=path,
            )


def apart(places: Iterable[Path]) -> None:
    """Refuse two things of one call that would be written to the same place.

    Parameters
    ----------
    places : iterable of Path
        Files and folders that are to be written.

    Raises
    ------
    OutputError
        If two are the same, whatever way leads there.
    """
    seen = set()
    for path in places:
        try:
            place = real_path(path)
        except ValueError:  # a name that no system takes: told where it is written
            continue
        if place in seen:
            raise OutputError(
                "two things are to be written here", remedy="give each its own name", file=path
            )
        seen.add(place)


def output_folder(wanted: Path | None, default: str, option: str = "--out") -> Path:
    """Choose an output folder and look whether it can be made, before any work is done.

    Parameters
    ----------
    wanted : Path or None
        The folder that was asked for.
    default : str
        The folder where none was.
    option : str
        Option of the command that names it, for the error.

    Returns
    -------
    Path

    Raises
    ------
    OutputError
        If it cannot be made or written to.
    """
    out = wanted or Path(default)
    try:
        there = next(folder for folder in (out, *real_path(out).parents) if is_there(folder))
    except (OSError, ValueError) as error:
        raise no_folder(out, error, option) from None
    if not there.is_dir() or not os.access(there, os.W_OK | os.X_OK):
        raise OutputError(
            "this is no folder that can be written to",
            remedy=f"give another {option} folder",
            file=there,
        )
    return out


def is_there(path: Path) -> bool:
    """Whether something is there; a name that no system takes is told by its error.

    Parameters
    ----------
    path : Path
        The place.

    Returns
    -------
    bool
    """
    try:
        path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def no_folder_there(path: Path) -> None:
    """Refuse to write a file where a folder lies.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    OutputError
        If it does.
    """
    if is_folder(path):
        raise a_folder(path)


def a_folder(path: Path) -> OutputError:
    """What is wrong with a folder in the place of a file.

    Parameters
    ----------
    path : Path
        The folder.

    Returns
    -------
    OutputError
    """
    return OutputError("this is a folder, not a file", remedy="name a file inside it", file=path)


def no_folder(out: Path, error: Exception, option: str) -> OutputError:
    """What is wrong with a folder that cannot be made.

    Parameters
    ----------
    out : Path
        The folder.
    error : Exception
        What the system said.
    option : str
        Option of the command that names it.

    Returns
    -------
    OutputError
    """
    return OutputError(
        f"the folder cannot be made ({reason(error)})",
        remedy=f"give another {option} folder",
        file=out,
    )


def reason(error: Exception) -> str:
    """What the system says of an error, without its number.

    Parameters
    ----------
    error : Exception
        The error.

    Returns
    -------
    str
    """
    return str(error.strerror or error) if isinstance(error, OSError) else str(error)
