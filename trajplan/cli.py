"""The command line: commands, output, exit status; no geometry.

Exit status 0: done, nothing fails a rule. 1: done, some rule fails. 2: the input or the
call is wrong; one line on standard error says what, where and how to mend it. 3: the
program itself broke.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import GeometryError, InputError, OutputError, about
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from trajplan.files import PlanFile
    from trajplan.planner import Plan, Setup

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command.

    Parameters
    ----------
    argv : sequence of str, optional
        Words after the program's name; by default those of the process.

    Returns
    -------
    int
        Exit status.
    """
    args = _parser().parse_args(argv)
    try:
        status: int = args.run(args)
        sys.stdout.flush()
    except InputError as error:
        return _refuse(str(error))
    except GeometryError as error:
        return _refuse(f"{error}; check the numbers that were given")
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("trajplan: stopped", file=sys.stderr)
        return 130
    except Exception as error:  # noqa: BLE001 - the one place that stands between a bug and a user
        return _broke(error)
    return status


def _refuse(sentence: str) -> int:
    print(f"trajplan: {' '.join(sentence.split())}", file=sys.stderr)
    return 2


def _broke(error: Exception) -> int:
    if os.environ.get("TRAJPLAN_TRACEBACK"):
        raise error
    print(
        f"trajplan: the program broke ({type(error).__name__}: {error}); this is a fault of the "
        "program, set TRAJPLAN_TRACEBACK=1 to see where",
        file=sys.stderr,
    )
    return 3


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Answer a wrong call in one line, like every other wrong input."""
        print(f"trajplan: {message}; see `{self.prog} --help`", file=sys.stderr)
        sys.exit(2)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="trajplan",
        description="Plan and check lag-screw trajectories through a fractured bone surface.",
        epilog=CAUTION_TEXT,
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    parser.set_defaults(run=_no_command, parser=parser)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)

    def command(name: str, run: Any, text: str) -> argparse.ArgumentParser:  # noqa: ANN401
        sub = commands.add_parser(name, help=text, description=text, epilog=CAUTION_TEXT)
        sub.set_defaults(run=run)
        return sub

    inspect = command("inspect", _inspect, "audit a mesh: size, closedness, winding, canal")
    inspect.add_argument("mesh", type=Path, help="STL, OBJ or PLY file")
    inspect.add_argument("--unit", choices=list(MM_PER_UNIT), default="mm", help="of the file (mm)")
    fracture = command("fracture", _fracture, "fit the fracture plane of a case and report on it")
    fracture.add_argument("case", type=Path, help="case file (TOML)")
    fracture.add_argument(
        "--split", action="store_true", help="cut the bone there and write its fragments as STL"
    )
    fracture.add_argument(
        "--rough", type=float, default=0.0, metavar="MM", help="roughness of the cut (0: smooth)"
    )
    fracture.add_argument("--seed", type=int, default=0, help="seed of the roughness (0)")
    fracture.add_argument("--out", type=Path, metavar="DIR", help="folder for the fragments")
    plan = command("plan", _plan, "plan the screws of a case")
    plan.add_argument("case", type=Path, help="case file (TOML)")
    check = command("check", _check, "judge axes that somebody else drew")
    check.add_argument("case", type=Path, help="case file (TOML)")
    check.add_argument("axes", type=Path, help="CSV: id,kind,technique,x,y,z,to_x,to_y,to_z")
    view = command("view", _view, "show a plan, or plan a case and show it, in a window")
    view.add_argument("plan", type=Path, help="plan file (JSON) or case file (TOML)")
    view.add_argument("--case", type=Path, help="case of the plan, where it has moved")
    view.add_argument("--shot", type=Path, metavar="FILE.png", help="write a picture, no window")
    _document_commands(command)
    screws = command("screws", _screws, "list the catalogue, or one screw with its sources")
    screws.add_argument("kind", nargs="?", help="a screw, such as HA4.5")
    screws.add_argument(
        "--catalogue", type=Path, action="append", default=[], help="a catalogue file of your own"
    )
    study = command("study", _study, "look at a plan while one setting runs over a range")
    study.add_argument("case", type=Path, help="case file (TOML)")
    study.add_argument("what", help="tilt, friction, bone, kind or cortex")
    study.add_argument("values", nargs="+", help="values, or FIRST:LAST:STEPS")
    study.add_argument("--out", type=Path, metavar="DIR", help="output folder (CASE-study)")
    demo = command("demo", _demo, "plan the demonstration case")
    batch = _batch_command(command)
    for sub, folder in ((plan, "CASE-plan"), (check, "AXES-check"), (demo, "demo-plan")):
        sub.add_argument("--out", type=Path, metavar="DIR", help=f"output folder ({folder})")
    for sub in (plan, check, demo):
        sub.add_argument("--why", action="store_true", help="tell where every number comes from")
    for sub in (plan, demo):
        sub.add_argument("--no-picture", action="store_true", help="do not draw the picture")
    for sub in (inspect, fracture, plan, check, batch, screws, demo):
        sub.add_argument("--json", action="store_true", help="print what a script reads")
    return parser


def _batch_command(command: Callable[..., argparse.ArgumentParser]) -> argparse.ArgumentParser:
    batch = command("batch", _batch, "plan or check many cases, on many workers")
    batch.add_argument("inputs", nargs="+", metavar="INPUT", help="case, folder, pattern, manifest")
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
        "-o", "--out", type=Path, metavar="DIR", default=Path("batch"), help="output folder (batch)"
    )
    return batch


def _document_commands(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Commands that write one plan down for others."""
    report = command("report", _report, "write a plan as one page for any browser, and as PDF")
    export = command("export", _export, "write screws, holes, scene, axes or sections of a plan")
    drill = command("drill", _drill, "write the steps of a plan, from the first drill on")
    for sub in (report, export, drill):
        sub.add_argument("plan", type=Path, help="plan file (JSON) or case file (TOML)")
        sub.add_argument("--case", type=Path, help="case of the plan, where it has moved")
    report.add_argument("-o", "--out", type=Path, metavar="FILE.html", help="(PLAN-report.html)")
    report.add_argument("--pdf", type=Path, metavar="FILE.pdf", help="print it into a PDF as well")
    report.add_argument("--paper", choices=["A4", "letter"], default="A4", help="of the PDF (A4)")
    export.add_argument("--screws", type=Path, metavar="FILE", help="STL, PLY or OBJ")
    export.add_argument("--drills", type=Path, metavar="FILE", help="holes: STL, PLY or OBJ")
    export.add_argument("--unit", choices=list(MM_PER_UNIT), default="mm", help="of both (mm)")
    export.add_argument("--scene", type=Path, metavar="FILE.glb", help="with names and colours")
    export.add_argument("--axes", type=Path, metavar="FILE.csv", help="as `check` reads it")
    export.add_argument("--sections", type=Path, metavar="DIR", help="section drawings, SVG")
    drill.add_argument("-o", "--out", type=Path, metavar="FILE.txt", help="(standard output)")
    drill.add_argument("--json", action="store_true", help="print what a script reads")


def _above_0(kind: type[int | float]) -> Callable[[str], float]:
    def number(text: str) -> float:
        value = kind(text)
        if not 0 < value < 1e9:
            raise argparse.ArgumentTypeError(f"{text} is not above 0")
        return value

    return number


def _no_command(args: argparse.Namespace) -> int:
    if args.version:
        from trajplan.planner import program_version

        print(f"trajplan {program_version()}")
    else:
        args.parser.print_help()
    return 0


def _print_json(data: Mapping[str, Any]) -> None:
    told = {"notice": CAUTION_TEXT, **data}
    print(json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False))


def _inspect(args: argparse.Namespace) -> int:
    from trajplan.bone import check_size, make_bone, read_surface
    from trajplan.show import audit_text, caution_text, plain

    surface = read_surface(args.mesh, args.unit)
    check_size(surface, args.unit)
    audit = make_bone(surface).audit
    if args.json:
        groups = {name: len(faces) for name, faces in surface.groups.items()}
        _print_json(
            {"name": surface.name, "sha256": surface.sha256, "groups": groups, **plain(audit)}
        )
    else:
        print(audit_text(surface, audit), caution_text(), sep="\n\n")
    return 0


def _fracture(args: argparse.Namespace) -> int:
    from trajplan.files import output_folder, read_case
    from trajplan.planner import set_up
    from trajplan.show import caution_text, fracture_json, fracture_text

    out = output_folder(args.out, f"{args.case.stem}-fragments") if args.split else None
    case = read_case(args.case)
    with about(args.case):
        setup = set_up(case)
    if out is not None:
        return _split(setup, out, args)
    if args.json:
        _print_json(fracture_json(setup.fracture))
    else:
        print(fracture_text(setup.fracture), caution_text(), sep="\n\n")
    return 0


def _split(setup: Setup, out: Path, args: argparse.Namespace) -> int:
    """Cut the bone of a case at its fracture and write the fragments, in mm."""
    from trajplan.files import make_folder, write_stl
    from trajplan.planner import split_case

    with about(args.case):
        split = split_case(setup, rough=args.rough, seed=args.seed)
    make_folder(out)
    files = [out / f"fragment{i}.stl" for i in range(1, len(split.pieces) + 1)]
    for file, piece in zip(files, split.pieces, strict=True):
        write_stl(file, piece.triangles())
    names = [str(file) for file in files]
    if args.json:
        _print_json({"fragments": names, "unit": "mm", "cautions": list(split.cautions)})
    else:
        print("Written, in mm: " + ", ".join(names), *split.cautions, CAUTION_TEXT, sep="\n")
    return 0


def _plan(args: argparse.Namespace) -> int:
    from trajplan.files import output_folder, read_case
    from trajplan.planner import plan_case

    out = output_folder(args.out, f"{args.case.stem}-plan")
    case = read_case(args.case)
    with about(args.case):
        plan = plan_case(case)
    return _hand_over(plan, out, "plan", args, picture=not args.no_picture)


def _study(args: argparse.Namespace) -> int:
    from trajplan.files import make_folder, output_folder, read_case
    from trajplan.planner import study, study_values
    from trajplan.show import plot_study, study_text, write_study

    out = output_folder(args.out, f"{args.case.stem}-study")
    case = read_case(args.case)
    with about(args.case):
        rows = study(case, args.what, study_values(args.values))
    make_folder(out)
    files = [out / f"{args.what}.csv", out / f"{args.what}.png"]
    write_study(rows, files[0])
    plot_study(rows, args.what, files[1])
    print(study_text(rows, args.what), CAUTION_TEXT, sep="\n\n")
    print("Written: " + ", ".join(str(file) for file in files))
    return 0


def _check(args: argparse.Namespace) -> int:
    from trajplan.files import output_folder, read_axes, read_case
    from trajplan.planner import check_axes

    out = output_folder(args.out, f"{args.axes.stem}-check")
    case = read_case(args.case)
    axes = read_axes(args.axes, case.unit)
    with about(args.case):
        checked = check_axes(case, axes)
    return _hand_over(checked, out, "check", args, picture=False)


def _batch(args: argparse.Namespace) -> int:
    from trajplan.batch import batch_text, run_batch
    from trajplan.files import output_folder

    run = run_batch(
        args.inputs,
        output_folder(args.out, "batch"),
        workers=args.workers,
        cluster=args.cluster,
        resume=args.resume,
        timeout=args.timeout,
        memory=args.memory,
        stream=sys.stderr,
    )
    if args.json:
        _print_json({**run.summary.plain(), "files": [str(file) for file in run.files]})
    else:
        print(batch_text(run), CAUTION_TEXT, sep="\n\n")
    return run.status


def _demo(args: argparse.Namespace) -> int:
    from trajplan.files import demo_case

    args.case = demo_case()
    args.out = args.out or Path("demo-plan")
    return _plan(args)


def _hand_over(plan: Plan, out: Path, name: str, args: argparse.Namespace, *, picture: bool) -> int:
    """Write a plan's files and print it."""
    from trajplan.checks import Verdict
    from trajplan.files import make_folder, write_plan, write_plan_csv
    from trajplan.planner import note_case, plan_record

    record = plan_record(plan)
    make_folder(out)
    files = [out / f"{name}.json", out / f"{name}.csv"]
    write_plan(files[0], record)
    write_plan_csv(files[1], record)
    note_case(out, args.case)
    if picture:
        from trajplan.show import save_plan_shot

        files.append(out / f"{name}.png")
        save_plan_shot(plan.setup, record, files[-1])
    if args.json:
        print(files[0].read_text(encoding="utf-8"), end="")
    else:
        from trajplan.show import plan_text, why_text

        print(plan_text(record), end="\n\n")
        if args.why:
            print(why_text(record), end="\n\n")
        print("Written: " + ", ".join(str(file) for file in files))
    return 1 if plan.verdict is Verdict.FAIL else 0


def _view(args: argparse.Namespace) -> int:
    from trajplan.planner import load_plan
    from trajplan.show import Session, save_edited, save_plan_shot, show_window

    _can_show(args.shot)
    setup, record = load_plan(args.plan, args.case)
    if args.shot is not None:
        save_plan_shot(setup, record, args.shot)
        print(f"Written: {args.shot}", CAUTION_TEXT, sep="\n")
        return 0
    planned = args.plan.suffix.lower() == ".json"
    out = args.plan.parent if planned else Path(f"{args.plan.stem}-plan")

    def keep(edited: Session) -> Path:
        path = save_edited(edited, out, args.plan.stem)
        print(f"Written: {path}", flush=True)
        return path

    show_window(Session(setup, record), keep)
    print(CAUTION_TEXT)
    return 0


def _can_show(shot: Path | None) -> None:
    """Refuse, before any work is done, where neither a window nor the picture can be made."""
    from trajplan.show import need_display, need_place

    if shot is None:
        need_display()
    need_place(shot, ".png")


def _report(args: argparse.Namespace) -> int:
    from trajplan.planner import load_plan
    from trajplan.show import need_place, report_html, write_report, write_report_pdf

    out = args.out or Path(f"{args.plan.stem}-report.html")
    need_place(out, ".html", ".htm")
    need_place(args.pdf, ".pdf")
    setup, record = load_plan(args.plan, args.case)
    html = report_html(setup, record)
    write_report(html, out)
    if args.pdf is not None:
        write_report_pdf(html, args.pdf, args.paper)
    return _written([out, args.pdf], record)


def _export(args: argparse.Namespace) -> int:
    from trajplan.files import output_folder
    from trajplan.planner import load_plan
    from trajplan.show import MESH_FORMS, need_place, write_exports

    files = (args.screws, args.drills, args.scene, args.axes)
    if not any((*files, args.sections)):
        raise OutputError(
            "nothing to write was named",
            remedy="name it with --screws, --drills, --scene, --axes or --sections",
        )
    for file, forms in zip(files, (MESH_FORMS, MESH_FORMS, [".glb"], [".csv"]), strict=True):
        need_place(file, *forms)
    if args.sections is not None:
        output_folder(args.sections, "", "--sections")
    setup, record = load_plan(args.plan, args.case)
    written, notes = write_exports(
        setup,
        record,
        unit=args.unit,
        screws=args.screws,
        drills=args.drills,
        scene=args.scene,
        axes=args.axes,
        section_folder=args.sections,
    )
    return _written(written, record, notes)


def _drill(args: argparse.Namespace) -> int:
    from trajplan.files import write_text_atomic
    from trajplan.planner import load_plan
    from trajplan.show import drill_sheet, drill_sheet_text, need_place, plain

    need_place(args.out)
    setup, record = load_plan(args.plan, args.case)
    sheet = drill_sheet(record, setup.catalogue)
    if args.out is not None:
        write_text_atomic(args.out, drill_sheet_text(sheet))
        return _written([args.out], record)
    if args.json:
        _print_json(plain(sheet))
    else:
        print(drill_sheet_text(sheet), end="")
    return 1 if record.verdict == "fail" else 0


def _written(files: Sequence[Path | None], record: PlanFile, notes: Sequence[str] = ()) -> int:
    names = ", ".join(str(file) for file in files if file is not None)
    print(f"Written: {names}", *notes, CAUTION_TEXT, sep="\n")
    return 1 if record.verdict == "fail" else 0


def _screws(args: argparse.Namespace) -> int:
    from trajplan.implants import find_screw, load_catalogue
    from trajplan.show import caution_text, plain, screw_sources_text, screws_text

    catalogue = load_catalogue(*args.catalogue)
    if args.kind is None:
        text = screws_text(catalogue)
        data = {
            "screws": [plain(screw) for screw in catalogue.screws.values()],
            "washers": [plain(washer) for washer in catalogue.washers.values()],
            "wires": [plain(wire) for wire in catalogue.wires.values()],
        }
    else:
        screw = find_screw(catalogue, args.kind)
        text, data = screw_sources_text(screw), plain(screw)
    if args.json:
        _print_json(data)
    else:
        print(text, caution_text(), sep="\n\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
