"""Commands that plan and judge."""

from __future__ import annotations

import gc
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._output import add_force, add_json, bar, handing_over, path_name
from trajplan.errors import about

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from trajplan.cli._output import Command
    from trajplan.files import PlanFile
    from trajplan.planner import Setup

__all__ = ["add_demo", "add_planning"]


def add_planning(command: Command) -> None:
    """Add `plan`, `check` and `study`."""
    plan = command("plan", _plan, "plan the screws of a case")
    plan.add_argument("case", type=path_name, help="case file (TOML)")
    check = command("check", _check, "judge axes that somebody else drew")
    check.add_argument("case", type=path_name, help="case file (TOML)")
    check.add_argument("axes", type=path_name, help="CSV: id,kind,technique,x,y,z,to_x,to_y,to_z")
    study = command("study", _study, "look at a plan while one setting runs over a range")
    study.add_argument("case", type=path_name, help="case file (TOML)")
    study.add_argument("what", help="tilt, friction, bone, kind or cortex")
    study.add_argument("values", nargs="+", help="values, or FIRST:LAST:STEPS")
    study.add_argument("--out", type=path_name, metavar="DIR", help="output folder (CASE-study)")
    add_force(study)
    _add_handing_over(plan, "CASE-plan")
    _add_handing_over(check, "AXES-check")
    check.add_argument("--all", action="store_true", help="print every line of a long table")
    _add_no_picture(plan)


def add_demo(command: Command) -> None:
    """Add `demo`."""
    demo = command("demo", _demo, "plan the demonstration case")
    _add_handing_over(demo, "demo-plan")
    _add_no_picture(demo)


def _add_handing_over(command: argparse.ArgumentParser, folder: str) -> None:
    command.add_argument("--out", type=path_name, metavar="DIR", help=f"output folder ({folder})")
    command.add_argument("--why", action="store_true", help="tell where every number comes from")
    add_force(command)
    add_json(command)


def _add_no_picture(command: argparse.ArgumentParser) -> None:
    command.add_argument("--no-picture", action="store_true", help="do not draw the picture")


def _plan(args: argparse.Namespace) -> int:
    from trajplan.files import read_case
    from trajplan.planner import plan_case, plan_record

    files = _files(args, f"{args.case.stem}-plan", "plan", picture=not args.no_picture)
    with handing_over(args):
        case = read_case(args.case)
        with about(args.case):
            plan = plan_case(case, progress=bar("placement error"))
        record = plan_record(plan)
        return _hand_over(record, files, args, plan.setup)


def _check(args: argparse.Namespace) -> int:
    from trajplan.files import read_axes, read_case
    from trajplan.planner import check_record
    from trajplan.show import check_text

    files = _files(args, f"{args.axes.stem}-check", "check", picture=False)
    with handing_over(args):
        case = read_case(args.case)
        axes = read_axes(args.axes, case.unit)
        with about(args.case):
            gc.freeze()  # programs and tables stay: looking through them again and again takes
            # a sixth of the time of a long check (measured)
            record = check_record(case, axes)
        return _hand_over(record, files, args, text=partial(check_text, every=args.all))


def _study(args: argparse.Namespace) -> int:
    from trajplan.files import claim, make_folder, output_folder, read_case
    from trajplan.planner import study, study_values
    from trajplan.show import plot_study, study_text, write_study

    out = output_folder(args.out, f"{args.case.stem}-study")
    files = [out / f"{args.what}.csv", out / f"{args.what}.png"]
    claim(files, force=args.force)
    with handing_over(args):
        case = read_case(args.case)
        with about(args.case):
            rows = study(case, args.what, study_values(args.values))
        make_folder(out)
        write_study(rows, files[0])
        plot_study(rows, args.what, files[1])
        print(study_text(rows, args.what), CAUTION_TEXT, sep="\n\n")
        print("Written: " + ", ".join(str(file) for file in files))
    return 0


def _demo(args: argparse.Namespace) -> int:
    from trajplan.files import demo_case

    args.case = demo_case()
    args.out = args.out or Path("demo-plan")
    return _plan(args)


def _files(args: argparse.Namespace, folder: str, name: str, *, picture: bool) -> list[Path]:
    """Where a plan's files are to go; refused before any work if they cannot."""
    from trajplan.files import claim, output_folder
    from trajplan.planner import SOURCE_FILE

    out = output_folder(args.out, folder)
    endings = (".json", ".csv", *([".png"] if picture else []))
    files = [out / f"{name}{ending}" for ending in endings]
    claim([*files, out / SOURCE_FILE], force=args.force)
    return files


def _hand_over(
    record: PlanFile,
    files: list[Path],
    args: argparse.Namespace,
    setup: Setup | None = None,
    *,
    text: Callable[[PlanFile], str] | None = None,
) -> int:
    """Write a plan's files and print it; with its setup, its picture too."""
    from trajplan.files import make_folder, outdate, plan_lines, write_plan, write_plan_csv
    from trajplan.planner import note_case

    make_folder(files[0].parent)
    write_plan(files[0], record)
    write_plan_csv(files[1], record)
    note_case(files[0].parent, args.case)
    if len(files) < 3:
        outdate(files[0].with_suffix(".png"))  # a picture of an earlier plan
    for picture in files[2:]:
        from trajplan.show import save_plan_shot

        assert setup is not None
        save_plan_shot(setup, record, picture)
    if args.json:
        sys.stdout.writelines(plan_lines(record))
    else:
        from trajplan.show import plan_text, why_lines

        print((text or plan_text)(record), end="\n\n")
        if args.why:
            sys.stdout.writelines(f"{line}\n" for line in why_lines(record))
            print()
        print("Written: " + ", ".join(str(file) for file in files))
    return 1 if record.verdict == "fail" else 0
