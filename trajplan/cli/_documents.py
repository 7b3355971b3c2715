"""Commands that write one plan down for others."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.cli._output import (
    add_force,
    add_json,
    file_name,
    handing_over,
    path_name,
    print_json,
    written,
)
from trajplan.errors import OutputError, PlanFileError
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    import argparse

    from trajplan.cli._output import Command
    from trajplan.files import PlanFile

__all__ = ["add_documents"]


def add_documents(command: Command) -> None:
    """Add `report`, `export`, `drill` and `bend`."""
    report = command("report", _report, "write a plan as one page for any browser, and as PDF")
    export = command("export", _export, "write screws, holes, scene, axes or sections of a plan")
    drill = command("drill", _drill, "write the steps of a plan, from the first drill on")
    bend = command("bend", _bend, "write how the plates of a plan are bent, and a page at 1 : 1")
    for sub in (report, export, drill, bend):
        sub.add_argument("plan", type=path_name, help="plan file (JSON) or case file (TOML)")
        sub.add_argument("--case", type=path_name, help="case of the plan, where it has moved")
        add_force(sub)
    report.add_argument(
        "-o", "--out", type=file_name, metavar="FILE.html", help="(PLAN-report.html)"
    )
    report.add_argument(
        "--pdf", type=file_name, metavar="FILE.pdf", help="print it into a PDF as well"
    )
    report.add_argument("--paper", choices=["A4", "letter"], default="A4", help="of the PDF (A4)")
    export.add_argument("--screws", type=file_name, metavar="FILE", help="STL, PLY or OBJ")
    export.add_argument("--plates", type=file_name, metavar="FILE", help="the same forms")
    export.add_argument("--drills", type=file_name, metavar="FILE", help="holes: STL, PLY or OBJ")
    export.add_argument("--unit", choices=list(MM_PER_UNIT), default="mm", help="of those (mm)")
    export.add_argument(
        "--scene", type=file_name, metavar="FILE.glb", help="with names and colours"
    )
    export.add_argument("--axes", type=file_name, metavar="FILE.csv", help="as `check` reads it")
    export.add_argument("--sections", type=path_name, metavar="DIR", help="section drawings, SVG")
    drill.add_argument("-o", "--out", type=file_name, metavar="FILE.txt", help="(standard output)")
    bend.add_argument("-o", "--out", type=file_name, metavar="FILE.txt", help="(standard output)")
    bend.add_argument(
        "--template", type=file_name, metavar="FILE", help="page to print at 1 : 1, PDF or SVG"
    )
    add_json(drill, bend)


def _report(args: argparse.Namespace) -> int:
    from trajplan.files import apart, claim
    from trajplan.planner import load_plan
    from trajplan.show import need_pdf, need_place, report_html, write_report, write_report_pdf

    out = args.out or Path(f"{args.plan.stem}-report.html")
    need_place(out, ".html", ".htm")
    need_place(args.pdf, ".pdf")
    need_pdf(args.pdf)
    files = [file for file in (out, args.pdf) if file is not None]
    apart(files)
    claim(files, force=args.force)
    with handing_over(args):
        setup, record = load_plan(args.plan, args.case)
        html = report_html(setup, record)
        write_report(html, out)
        if args.pdf is not None:
            write_report_pdf(html, args.pdf, args.paper)
        return written(files, record)


def _export(args: argparse.Namespace) -> int:
    from trajplan.files import apart, claim, output_folder
    from trajplan.planner import load_plan
    from trajplan.show import MESH_FORMS, need_place, write_exports

    files = (args.screws, args.plates, args.drills, args.scene, args.axes)
    if not any((*files, args.sections)):
        raise OutputError(
            "nothing to write was named",
            remedy="name it with --screws, --plates, --drills, --scene, --axes or --sections",
        )
    for file, forms in zip(files, (*[MESH_FORMS] * 3, [".glb"], [".csv"]), strict=True):
        need_place(file, *forms)
    if args.sections is not None:
        output_folder(args.sections, "", "--sections")
    apart(file for file in (*files, args.sections) if file is not None)
    claim([file for file in files if file is not None], force=args.force)
    with handing_over(args):
        setup, record = load_plan(args.plan, args.case)
        done, notes = write_exports(
            setup,
            record,
            unit=args.unit,
            screws=args.screws,
            plates=args.plates,
            drills=args.drills,
            scene=args.scene,
            axes=args.axes,
            section_folder=args.sections,
        )
        return written(done, record, notes)


def _drill(args: argparse.Namespace) -> int:
    from trajplan.files import claim, write_text_atomic
    from trajplan.planner import load_plan
    from trajplan.show import drill_sheet, drill_sheet_text, need_place, plain

    need_place(args.out)
    claim([] if args.out is None else [args.out], force=args.force)
    with handing_over(args):
        setup, record = load_plan(args.plan, args.case)
        _need_reduced(args.plan, record, "drill sheet")
        sheet = drill_sheet(record, setup.catalogue)
        if args.out is not None:
            write_text_atomic(args.out, drill_sheet_text(sheet))
            return written([args.out], record)
        if args.json:
            print_json(plain(sheet))
        else:
            print(drill_sheet_text(sheet), end="")
    return _status(record)


def _bend(args: argparse.Namespace) -> int:
    from trajplan.files import apart, claim, write_text_atomic
    from trajplan.planner import load_plan
    from trajplan.show import (
        bending_sheet,
        bending_sheet_text,
        need_place,
        plain,
        write_templates,
    )

    need_place(args.out)
    need_place(args.template, ".pdf", ".svg")
    files = [file for file in (args.out, args.template) if file is not None]
    apart(files)
    claim(files, force=args.force)
    with handing_over(args):
        _, record = load_plan(args.plan, args.case)
        _need_reduced(args.plan, record, "bending sheet")
        sheet = bending_sheet(record)
        if args.template is not None:
            write_templates(record, sheet, args.template)
        if args.out is not None:
            write_text_atomic(args.out, bending_sheet_text(sheet))
        if args.json:
            print_json(plain(sheet))
        elif args.out is None:
            print(bending_sheet_text(sheet), end="")
        return written(files, record) if files and not args.json else _status(record)


def _status(record: PlanFile) -> int:
    return 1 if record.verdict == "fail" else 0


def _need_reduced(plan: Path, record: PlanFile, what: str) -> None:
    """Write no steps for fragments that are not reduced: no depth of theirs holds."""
    from trajplan.show import not_reduced

    reasons = not_reduced(record)
    if reasons:
        raise PlanFileError(
            f"no {what} is written, for the fragments are not reduced ({reasons[0]})",
            remedy="put them together with `trajplan reduce CASE --out DIR`, and plan "
            "DIR/case.toml",
            file=plan,
        )
