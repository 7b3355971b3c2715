"""Files are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from trajplan.errors import OutputError

__all__ = ["make_folder", "output_folder", "write_bytes_atomic", "write_text_atomic"]


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
    there = next(folder for folder in (out, *out.resolve().parents) if folder.exists())
    if not there.is_dir() or not os.access(there, os.W_OK | os.X_OK):
        raise OutputError(
            "this is no folder that can be written to",
            remedy=f"give another {option} folder",
            file=there,
        )
    return out


def make_folder(out: Path, option: str = "--out") -> None:
    """Make a folder and those above it.

    Parameters
    ----------
    out : Path
        The folder.
    option : str
        Option of the command that names it, for the error.

    Raises
    ------
    OutputError
        If it cannot be made.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made ({error.strerror})",
            remedy=f"give another {option} folder",
            file=out,
        ) from None


def write_text_atomic(path: Path, text: str) -> None:
    """Write UTF-8 text through a temporary file in the same folder.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    text : str
        Written as it is: line ends are not changed.

    Raises
    ------
    OutputError
        If the file cannot be written; nothing is left behind.
    """
    write_bytes_atomic(path, text.encode())


def write_bytes_atomic(path: Path, content: bytes) -> None:
    """Write bytes through a temporary file in the same folder.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    content : bytes
        What to write.

    Raises
    ------
    OutputError
        If the file cannot be written; nothing is left behind.
    """
    # Opened by name, not by `tempfile`, so that the file gets the user's usual permissions.
    temporary = path.parent / f".{path.name}.{secrets.token_hex(4)}.part"
    try:
        with temporary.open("xb") as stream:
            stream.write(content)
        temporary.replace(path)
    except OSError as error:
        raise OutputError(_found(path, error), remedy=_remedy(path), file=path) from error
    finally:
        _drop(temporary)


def _drop(temporary: Path) -> None:
    try:
        temporary.unlink(missing_ok=True)
    except OSError:  # its folder is no folder, so there is nothing to drop
        return


def _found(path: Path, error: OSError) -> str:
    if not path.parent.exists():
        return f"the folder {path.parent} does not exist"
    if not path.parent.is_dir():
        return f"{path.parent} is not a folder"
    if path.is_dir():
        return "this is a folder, not a file"
    return f"the file cannot be written ({error.strerror or error})"


def _remedy(path: Path) -> str:
    if path.is_dir():
        return "name a file inside it"
    if not path.parent.is_dir():
        return "make the folder first, or name another"
    return "name a folder that you may write to, on a disk with room"
