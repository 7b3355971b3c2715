"""Which program made a result: its version, and its code to the last byte."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from trajplan.planner import program_version

__all__ = ["program_mark"]

#: Files of the package that decide what comes out.
CODE = ("*.py", "*.toml", "*.json")


@cache
def program_mark() -> str:
    """Mark of this program, the same on every machine that has the same one.

    Returns
    -------
    str
        Version, and the beginning of a sha256 over the package's files: in a checkout the
        version stays while the code changes.
    """
    package = Path(__file__).parents[1]
    files = sorted(
        (file.relative_to(package).as_posix(), file)
        for pattern in CODE
        for file in package.rglob(pattern)
    )
    digest = hashlib.sha256()
    for name, file in files:
        digest.update(f"{name}\0{hashlib.sha256(file.read_bytes()).hexdigest()}\n".encode())
    return f"{program_version()}+{digest.hexdigest()[:16]}"
