"""The demonstration case."""

from __future__ import annotations

from pathlib import Path

from trajplan.errors import CaseError

__all__ = ["demo_case"]


def demo_case() -> Path:
    """Where the demonstration case lies: in the package, or beside it in a checkout.

    Returns
    -------
    Path

    Raises
    ------
    CaseError
        If neither has it.
    """
    package = Path(__file__).parents[1]
    for folder in (package / "meshes", package.parent / "meshes"):
        if (folder / "shaft.toml").is_file():
            return folder / "shaft.toml"
    raise CaseError(
        "the demonstration case is missing", remedy="install trajplan again", file="shaft.toml"
    )
