"""What commands print and write alike."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from trajplan.cautions import CAUTION_TEXT

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from trajplan.files import PlanFile

    Run = Callable[[argparse.Namespace], int]
    Command = Callable[[str, Run, str], argparse.ArgumentParser]  # name, what runs, what it says

__all__ = ["add_json", "print_json", "written"]


def add_json(*commands: argparse.ArgumentParser) -> None:
    """Let commands print what a script reads."""
    for command in commands:
        command.add_argument("--json", action="store_true", help="print what a script reads")


def print_json(data: Mapping[str, Any]) -> None:
    """Print what a script reads, the cautions first."""
    told = {"notice": CAUTION_TEXT, **data}
    print(json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False))


def written(files: Sequence[Path | None], record: PlanFile, notes: Sequence[str] = ()) -> int:
    """Say which files were written, and answer the exit status."""
    names = ", ".join(str(file) for file in files if file is not None)
    print(f"Written: {names}", *notes, CAUTION_TEXT, sep="\n")
    return 1 if record.verdict == "fail" else 0
