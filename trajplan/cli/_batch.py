"""The command for many cases."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._output import add_force, add_json, path_name, print_json
from trajplan.cli._working import hush

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.cli._output import Command

__all__ = ["add_batch"]


def add_batch(command: Command) -> None:
    """Add `batch`."""
    batch = command("batch", _batch, "plan or check many cases, on many workers")
    batch.add_argument(
        "inputs", nargs="+", type=_an_input, metavar="INPUT", help="case, folder, pattern, manifest"
    )
    batch.add_argument("--workers", type=_above_0(int), metavar="N", help="processes (one a core)")
    batch.add_argument("--cluster", metavar="ADDRESS", help="dask scheduler, or `local`")
    batch.add_argument("--resume", action="store_true", help="do only what --out does not hold")
    batch.add_argument(
        "--timeout", type=_above_0(float), metavar="SECONDS", help="most that a case may take"
    )
    batch.add_argument(
        "--memory", type=_above_0(float), metavar="MB", help="most that a process may hold"
    )
    batch.add_argument(
        "-o",
        "--out",
        type=path_name,
        metavar="DIR",
        default=Path("batch"),
        help="output folder (batch)",
    )
    add_force(batch)
    add_json(batch)


def _batch(args: argparse.Namespace) -> int:
    from trajplan.batch import batch_text, run_batch
    from trajplan.files import output_folder

    hush()  # a batch tells of its cases itself
    run = run_batch(
        args.inputs,
        output_folder(args.out, "batch"),
        workers=args.workers,
        cluster=args.cluster,
        resume=args.resume,
        timeout=args.timeout,
        memory=args.memory,
        force=args.force,
        stream=sys.stderr,
    )
    if args.json:
        print_json({**run.summary.plain(), "files": [str(file) for file in run.files]})
    else:
        print(batch_text(run), CAUTION_TEXT, sep="\n\n")
    return run.status


def _an_input(text: str) -> str:
    path_name(text)  # an empty one is none
    return text


def _above_0(kind: type[int | float]) -> Callable[[str], float]:
    def number(text: str) -> float:
        value = kind(text)
        if not 0 < value < 1e9:
            raise argparse.ArgumentTypeError(f"{text} is not above 0")
        return value

    return number
