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
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import CaseError, GeometryError, InputError, OutputError, PlanFileError
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from trajplan.files import Case, PlanFile
    from trajplan.planner import Plan, Setup

__all__ = ["main"]

#: File in an output folder that says where the case lies, so that `view` finds the meshes.
#: Kept out of the plan, whose bytes depend on the case alone.
SOURCE_FILE = "source.json"


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


@contextmanager
def _about(file: Path) -> Iterator[None]:
    """Name the file in errors of floors that work on its content and do not know the file."""
    try:
        yield
    except InputError as error:
        if error.file is not None:
            raise
        raise type(error)(error.found, remedy=error.remedy, file=file, where=error.where) from None


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
    batch = command("batch", _batch, "plan or check many cases, on many workers")
    batch.add_argument("inputs", nargs="+", metavar="INPUT", help="case, folder, pattern, manifest")
    batch.add_argument("--workers", type=_above_0(int), metavar="N", help="processes (one a core)")
    batch.add_argument("--cluster", metavar="ADDRESS", help="dask scheduler, or `local`")
    batch.add_argument("--resume", action="store_true", help="do only what --out does not hold")
    batch.add_argument(
        "--timeout", type=_above_0(float), metavar="SECONDS", help="most that a case may take"
    )
    batch.add_argument(
        "--memory", type=_above_0(float), metavar="MB", help="most that a case may take"
    )
    batch.add_argument(
        "-o", "--out", type=Path, metavar="DIR", default=Path("batch"), help="output folder (batch)"
    )
    for sub, folder in ((plan, "CASE-plan"), (check, "AXES-check"), (demo, "demo-plan")):
        sub.add_argument("--out", type=Path, metavar="DIR", help=f"output folder ({folder})")
    for sub in (plan, check, demo):
        sub.add_argument("--why", action="store_true", help="tell where every number comes from")
    for sub in (plan, demo):
        sub.add_argument("--no-picture", action="store_true", help="do not draw the picture")
    for sub in (inspect, fracture, plan, check, batch, screws, demo):
        sub.add_argument("--json", action="store_true", help="print what a script reads")
    return parser


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
    from trajplan.files import read_case
    from trajplan.planner import set_up
    from trajplan.show import caution_text, fracture_json, fracture_text

    out = _folder(args.out, f"{args.case.stem}-fragments") if args.split else None
    case = read_case(args.case)
    with _about(args.case):
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
    from trajplan.files import write_stl
    from trajplan.planner import split_case

    with _about(args.case):
        split = split_case(setup, rough=args.rough, seed=args.seed)
    _make(out)
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
    from trajplan.files import read_case
    from trajplan.planner import plan_case

    out = _folder(args.out, f"{args.case.stem}-plan")
    case = read_case(args.case)
    with _about(args.case):
        plan = plan_case(case)
    return _hand_over(plan, out, "plan", args, picture=not args.no_picture)


def _study(args: argparse.Namespace) -> int:
    from trajplan.files import read_case
    from trajplan.planner import study
    from trajplan.show import plot_study, study_text, write_study

    out = _folder(args.out, f"{args.case.stem}-study")
    case = read_case(args.case)
    with _about(args.case):
        rows = study(case, args.what, _values(args.values))
    _make(out)
    files = [out / f"{args.what}.csv", out / f"{args.what}.png"]
    write_study(rows, files[0])
    plot_study(rows, args.what, files[1])
    print(study_text(rows, args.what), CAUTION_TEXT, sep="\n\n")
    print("Written: " + ", ".join(str(file) for file in files))
    return 0


def _values(words: Sequence[str]) -> list[float | str]:
    """Values of a study: numbers, names, or FIRST:LAST:STEPS for evenly spaced numbers."""
    values: list[float | str] = []
    for word in words:
        first, colon, rest = word.partition(":")
        last, _, steps = rest.partition(":")
        try:
            if colon:
                count = int(steps)
                low, high = float(first), float(last)
                values += [low + (high - low) * i / (count - 1) for i in range(count)]
            else:
                values.append(float(word))
        except (ValueError, ZeroDivisionError):
            if colon:
                raise CaseError(
                    f'"{word}" is no range', remedy="write FIRST:LAST:STEPS, such as 0:45:10"
                ) from None
            values.append(word)
    return values


def _check(args: argparse.Namespace) -> int:
    from trajplan.files import read_axes, read_case
    from trajplan.planner import check_axes

    out = _folder(args.out, f"{args.axes.stem}-check")
    case = read_case(args.case)
    axes = read_axes(args.axes, case.unit)
    with _about(args.case):
        checked = check_axes(case, axes)
    return _hand_over(checked, out, "check", args, picture=False)


def _batch(args: argparse.Namespace) -> int:
    from trajplan.batch import batch_text, run_batch

    run = run_batch(
        args.inputs,
        _folder(args.out, "batch"),
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
    args.case = demo_case()
    args.out = args.out or Path("demo-plan")
    return _plan(args)


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
    package = Path(__file__).parent
    for folder in (package / "meshes", package.parent / "meshes"):
        if (folder / "shaft.toml").is_file():
            return folder / "shaft.toml"
    raise CaseError(
        "the demonstration case is missing", remedy="install trajplan again", file="shaft.toml"
    )


def _folder(wanted: Path | None, default: str) -> Path:
    """Output folder; whether it can be made is looked at before any work is done."""
    out = wanted or Path(default)
    there = next(folder for folder in (out, *out.resolve().parents) if folder.exists())
    if not there.is_dir() or not os.access(there, os.W_OK | os.X_OK):
        raise OutputError(
            "this is no folder that can be written to",
            remedy="give another --out folder",
            file=there,
        )
    return out


def _make(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made ({error.strerror})",
            remedy="give another --out folder",
            file=out,
        ) from None


def _hand_over(plan: Plan, out: Path, name: str, args: argparse.Namespace, *, picture: bool) -> int:
    """Write a plan's files and print it."""
    from trajplan.checks import Verdict
    from trajplan.files import write_plan, write_plan_csv, write_text_atomic
    from trajplan.planner import plan_record

    record = plan_record(plan)
    _make(out)
    files = [out / f"{name}.json", out / f"{name}.csv"]
    write_plan(files[0], record)
    write_plan_csv(files[1], record)
    where = os.path.relpath(args.case.resolve(), out.resolve())
    write_text_atomic(out / SOURCE_FILE, json.dumps({"case": Path(where).as_posix()}) + "\n")
    if picture:
        files.append(out / f"{name}.png")
        _draw(plan.setup, record, files[-1])
    if args.json:
        print(files[0].read_text(encoding="utf-8"), end="")
    else:
        from trajplan.show import plan_text, why_text

        print(plan_text(record), end="\n\n")
        if args.why:
            print(why_text(record), end="\n\n")
        print("Written: " + ", ".join(str(file) for file in files))
    return 1 if plan.verdict is Verdict.FAIL else 0


def _draw(setup: Setup, record: PlanFile, shot: Path | None) -> None:
    """Draw a plan into a picture, or in a window where no picture is asked for."""
    from trajplan.show import findings_text, plan_scene, save_shot, show_window

    items = plan_scene(setup, record)
    words = {"verdict": record.verdict, "frame": record.frame}
    title = record.title or record.case.name
    if shot is None:
        show_window(items, title, findings_text(record), **words)
    else:
        save_shot(items, shot, title, findings_text(record), **words)


def _view(args: argparse.Namespace) -> int:
    _can_show(args.shot)
    setup, record = _to_view(args.plan, args.case)
    _draw(setup, record, args.shot)
    if args.shot is not None:
        print(f"Written: {args.shot}", CAUTION_TEXT, sep="\n")
    return 0


def _can_show(shot: Path | None) -> None:
    """Refuse, before any work is done, where neither a window nor the picture can be made."""
    from trajplan.show import need_display

    if shot is None:
        need_display()
    elif shot.suffix.lower() != ".png":
        raise OutputError("the picture is a PNG file", remedy="let its name end in .png", file=shot)
    elif not shot.parent.is_dir():
        raise OutputError(
            f"{shot.parent} is no folder", remedy="make it first, or name another", file=shot
        )


def _to_view(plan: Path, case: Path | None) -> tuple[Setup, PlanFile]:
    """Read a plan and set its case up, or plan a case."""
    from trajplan.files import read_case, read_plan
    from trajplan.planner import plan_case, plan_record, same_inputs, set_up

    if plan.suffix.lower() != ".json":
        known = read_case(plan)
        with _about(plan):
            made = plan_case(known)
        return made.setup, plan_record(made)
    record = read_plan(plan)
    known = _case_of(plan, case)
    with _about(known.file):
        setup = set_up(known)
    same_inputs(setup, record, plan)
    return setup, record


def _case_of(plan: Path, given: Path | None) -> Case:
    """Find the case that a plan was made from."""
    from trajplan.files import read_case

    if given is not None:
        return read_case(given)
    note = plan.parent / SOURCE_FILE
    try:
        told = json.loads(note.read_text(encoding="utf-8"))
        case, changes = plan.parent / told["case"], told.get("changes")
    except (OSError, ValueError, KeyError, TypeError):
        raise PlanFileError(
            "nothing beside the plan says where its case lies",
            remedy="name the case with --case",
            file=plan,
        ) from None
    return read_case(case, changes)


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
