"""Files are written whole or not at all."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from trajplan.errors import OutputError

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["write_bytes_atomic", "write_text_atomic"]


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
