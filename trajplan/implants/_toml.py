"""Reading TOML, with errors that name the file and the line."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

from trajplan.outside import regular_file

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.errors import InputError

__all__ = ["parse_toml", "read_bytes"]


def read_bytes(path: Path, error: type[InputError]) -> bytes:
    """All bytes of a file.

    Parameters
    ----------
    path : Path
        The file.
    error : type of InputError
        What to raise.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        Of the kind asked for, if the file is missing, no regular file, or cannot be read.
    """
    regular_file(path, error)
    try:
        return path.read_bytes()
    except OSError as trouble:
        raise error(
            f"the file cannot be read ({trouble.strerror})",
            remedy="check its name and rights",
            file=path,
        ) from None


def parse_toml(content: bytes, path: Path, error: type[InputError]) -> dict[str, Any]:
    """Parse the bytes of a TOML file.

    Parameters
    ----------
    content : bytes
        UTF-8, with or without a byte order mark.
    path : Path
        The file, for the error.
    error : type of InputError
        What to raise.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        Of the kind asked for, if the bytes are not TOML; names the line.
    """
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise error(
            "this is not UTF-8 text", remedy="give a TOML file, saved as UTF-8", file=path
        ) from None
    except RecursionError:
        raise error("lists are nested too deeply", remedy="flatten them", file=path) from None
    except ValueError as trouble:
        found, line = _split(str(trouble))
        raise error(
            f"this is not TOML ({found})", remedy="mend that line", file=path, where=line
        ) from None


def _split(message: str) -> tuple[str, str | None]:
    """Take the line out of tomllib's message, which ends "(at line 3, column 8)"."""
    match = re.search(r" \(at (line \d+), column \d+\)$", message)
    if match is None:
        return message.replace(" (at end of document)", " at the end"), None
    return message[: match.start()], match[1]
