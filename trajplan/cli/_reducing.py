"""The command that puts displaced fragments together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.cli._output import add_force, add_json, handing_over, stages
from trajplan.errors import about

if TYPE_CHECKING:
    import argparse

    from trajplan.cli._output import Command

__all__ = ["add_reducing"]


def add_reducing(command: Command) -> None:
    """Add `reduce`."""
    reduce = command("reduce", _reduce, "put displaced fragments together")
    reduce.add_argument("case", type=Path, help="case file (TOML) with fragments as they lie")
    reduce.add_argument("--out", type=Path, metavar="DIR", help="output folder (CASE-reduced)")
    reduce.add_argument("--no-picture", action="store_true", help="do not draw the picture")
    add_force(reduce)
    add_json(reduce)


def _reduce(args: argparse.Namespace) -> int:
    from trajplan.files import (
        claim,
        make_folder,
        output_folder,
        read_case,
        reduction_json,
        toml_text,
        write_bytes_atomic,
        write_reduction,
        write_text_atomic,
    )
    from trajplan.planner import (
        CASE_FILE,
        REDUCTION_FILE,
        SOURCE_FILE,
        note_case,
        reduce_case,
        reduced_files,
        reduction_record,
    )
    from trajplan.show import reduction_text, save_reduction_shot

    out = output_folder(args.out, f"{args.case.stem}-reduced")
    claim([out / name for name in (REDUCTION_FILE, CASE_FILE, SOURCE_FILE)], force=args.force)
    picture = None if args.no_picture else out / "reduction.png"
    if picture is not None:
        claim([picture], force=args.force)
    with handing_over(args):
        case = read_case(args.case)
        with about(args.case):
            reduced = reduce_case(case, progress=stages())
        make_folder(out)
        meshes, data = reduced_files(reduced, out)
        record = reduction_record(reduced, meshes)
        for name, content in meshes.items():
            write_bytes_atomic(out / name, content)
        write_reduction(out / REDUCTION_FILE, record)
        write_text_atomic(out / CASE_FILE, toml_text(data))
        note_case(out, args.case)
        if picture is not None:
            save_reduction_shot(reduced, record, picture)
        if args.json:
            print(reduction_json(record), end="")
        else:
            names = [*meshes, REDUCTION_FILE, CASE_FILE, *([picture.name] if picture else [])]
            print(reduction_text(record), end="\n\n")
            print("Written: " + ", ".join(str(out / name) for name in names))
    return 0 if record.trusted else 1
