#!/usr/bin/env python3
"""Print the lowest versions that pyproject.toml allows, as constraints for pip.

usage: python scripts/bounds.py > constraints.txt
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1] / "pyproject.toml"
#: Name, extras of its own, lowest version.
NEED = re.compile(r"([A-Za-z0-9_.-]+)(\[[^\]]*\])?(?:>=([0-9][\w.]*))?")


def bounds() -> dict[str, str | None]:
    """Every package that trajplan or an extra of it needs, and its lowest version.

    Returns
    -------
    dict
        Name -> version; None where any will do.
    """
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    needs = [*project["dependencies"], *(need for extra in extras for need in extra)]
    found: dict[str, str | None] = {}
    for need in needs:
        name, _, version = NEED.fullmatch(need).groups()
        found[name] = version or found.get(name)
    return found


if __name__ == "__main__":
    for name, version in sorted(bounds().items()):
        if version is not None:
            print(f"{name}=={version}")
