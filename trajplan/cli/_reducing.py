"""The command that puts displaced fragments together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.cli._output import add_force, add_json, handing_over, path_name, stages
from trajplan.errors import about

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from trajplan.cli._output import Command
    from trajplan.files import ReductionFile
    from trajplan.planner import Reduced

__all__ = ["add_reducing", "write_reduced"]


def add_reducing(command: Command) -> None:
    """Add `reduce`."""
    reduce = command("reduce", _reduce, "put displaced fragments together")
    reduce.add_argument("case", type=path_name, help="case file (TOML) with fragments as they lie")
    reduce.add_argument("--out", type=path_name, metavar="DIR", help="output folder (CASE-reduced)")
    reduce.add_argument("--no-picture", action="store_true", help="do not draw the picture")
    add_force(reduce)
    add_json(reduce)


def _reduce(args: argparse.Namespace) -> int:
    from trajplan.files import claim, output_folder, read_case, reduction_json
    from trajplan.planner import CASE_FILE, REDUCTION_FILE, SOURCE_FILE, reduce_case
    from trajplan.show import reduction_text

    out = output_folder(args.out, f"{args.case.stem}-reduced")
    picture = () if args.no_picture else (PICTURE,)
    names = (REDUCTION_FILE, CASE_FILE, SOURCE_FILE, *picture)
    claim([out / name for name in names], force=args.force)
    with handing_over(args):
        case = read_case(args.case)
        with about(args.case):
            reduced = reduce_case(case, progress=stages())
        record, written = write_reduced(reduced, out, picture=bool(picture))
        if args.json:
            print(reduction_json(record), end="")
        else:
            print(reduction_text(record), end="\n\n")
            print("Written: " + ", ".join(map(str, written)))
    return 0 if record.trusted else 1


def write_reduced(
    reduced: Reduced, out: Path, *, picture: bool
) -> tuple[ReductionFile, tuple[Path, ...]]:
    """Write a reduction, its meshes, the case that plans them, and its picture."""
    from trajplan.files import (
        make_folder,
        toml_text,
        write_bytes_atomic,
        write_reduction,
        write_text_atomic,
    )
    from trajplan.planner import (
        CASE_FILE,
        REDUCTION_FILE,
        note_case,
        reduced_files,
        reduction_record,
    )

    make_folder(out)
    meshes, data = reduced_files(reduced, out)
    record = reduction_record(reduced, meshes)
    for name, content in meshes.items():
        write_bytes_atomic(out / name, content)
    write_reduction(out / REDUCTION_FILE, record)
    write_text_atomic(out / CASE_FILE, toml_text(data))
    note_case(out, reduced.case.file)
    names = [*meshes, REDUCTION_FILE, CASE_FILE]
    if picture:
        from trajplan.show import save_reduction_shot

        save_reduction_shot(reduced, record, out / PICTURE)
        names.append(PICTURE)
    return record, tuple(out / name for name in names)


#: Name of the picture beside a reduction.
PICTURE = "reduction.png"
