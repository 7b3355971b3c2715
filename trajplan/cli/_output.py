"""What commands print and write alike."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentTypeError
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._working import hush, speak

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from trajplan.files import PlanFile

    Run = Callable[[argparse.Namespace], int]
    Command = Callable[[str, Run, str], argparse.ArgumentParser]  # name, what runs, what it says

__all__ = [
    "add_force",
    "add_json",
    "bar",
    "file_name",
    "handing_over",
    "path_name",
    "print_json",
    "stages",
    "written",
]


def path_name(text: str) -> Path:
    """Take a word for a path; an empty one, as a script's empty variable gives, means none."""
    if not text.strip():
        raise ArgumentTypeError("the name is empty")
    return Path(text)


def file_name(text: str) -> Path:
    """Take a word for the path of a file that is to be written."""
    if text.endswith("/"):
        raise ArgumentTypeError(f"{text} names a folder, not a file")
    return path_name(text)


def add_json(*commands: argparse.ArgumentParser) -> None:
    """Let commands print what a script reads."""
    for command in commands:
        command.add_argument("--json", action="store_true", help="print what a script reads")


def add_force(*commands: argparse.ArgumentParser) -> None:
    """Let commands write over what they would leave alone."""
    for command in commands:
        command.add_argument(
            "--force", action="store_true", help="write over files that trajplan did not write"
        )


@contextmanager
def handing_over(args: argparse.Namespace) -> Iterator[None]:
    """Put the files of a command in place once all of them are whole and all is printed."""
    from trajplan.files import together

    with together(force=args.force):
        yield
        sys.stdout.flush()


def bar(text: str, unit: str = " axes") -> Callable[[int, int], None]:
    """Tell on a terminal how far a step has come, once it takes longer than a second."""
    from tqdm import tqdm

    shown: list[tqdm[Any]] = []

    def tell(done: int, total: int) -> None:
        if not shown:
            shown.append(
                tqdm(desc=text, total=total, unit=unit, delay=1.0, leave=False, disable=None)
            )
            hush()
        shown[0].update(done - shown[0].n)
        if done >= total:
            shown[0].close()
            speak()

    return tell


def stages() -> Callable[[str, float], None]:
    """Tell on a terminal what is being done and how far it has come, from the first second."""
    from tqdm import tqdm

    shown: list[tqdm[Any]] = []

    def tell(what: str, share: float) -> None:
        if not shown:
            form = "{desc}: {percentage:3.0f} % |{bar}| {elapsed}"
            shown.append(tqdm(total=100, leave=False, disable=None, bar_format=form))
            hush()
        shown[0].set_description_str(what)
        shown[0].update(100.0 * share - shown[0].n)
        if share >= 1.0:
            shown[0].close()
            speak()

    return tell


def print_json(data: Mapping[str, Any]) -> None:
    """Print what a script reads, the cautions first."""
    told = {"notice": CAUTION_TEXT, **data}
    print(json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False))


def written(files: Sequence[Path], record: PlanFile, notes: Sequence[str] = ()) -> int:
    """Say which files were written, and answer the exit status."""
    names = ", ".join(str(file) for file in files)
    print(f"Written: {names}", *notes, CAUTION_TEXT, sep="\n")
    return 1 if record.verdict == "fail" else 0
