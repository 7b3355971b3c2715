"""The command that shows a plan, or the fragments of a reduction."""

from __future__ import annotations

from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._output import add_force, file_name, handing_over, path_name
from trajplan.cli._working import hush

if TYPE_CHECKING:
    import argparse

    from trajplan.cli._output import Command
    from trajplan.show import Session

__all__ = ["add_showing"]


def add_showing(command: Command) -> None:
    """Add `view`."""
    view = command("view", _view, "show a plan, a reduction or a case in a window")
    view.add_argument("plan", type=path_name, help="plan or reduction (JSON), or case file (TOML)")
    view.add_argument("--case", type=path_name, help="case of the plan, where it has moved")
    view.add_argument(
        "--shot", type=file_name, metavar="FILE.png", help="write a picture, no window"
    )
    add_force(view)


def _view(args: argparse.Namespace) -> int:
    from trajplan.files import claim, is_reduction
    from trajplan.planner import load_plan
    from trajplan.show import Session, save_edited, save_plan_shot, show_window

    _can_show(args.shot)
    if is_reduction(args.plan):
        return _view_reduction(args)
    if args.shot is not None:
        claim([args.shot], force=args.force)
        with handing_over(args):
            setup, record = load_plan(args.plan, args.case)
            save_plan_shot(setup, record, args.shot)
            print(f"Written: {args.shot}", CAUTION_TEXT, sep="\n")
        return 0
    setup, record = load_plan(args.plan, args.case)
    planned = args.plan.suffix.lower() == ".json"
    out = args.plan.parent if planned else Path(f"{args.plan.stem}-plan")

    def keep(edited: Session) -> Path:
        with handing_over(args):
            path = save_edited(edited, out, args.plan.stem)
            print(f"Written: {path}")
        return path

    session = Session(setup, record)
    hush()  # from here on the window speaks for itself
    show_window(session, keep)
    print(CAUTION_TEXT)
    return 0


def _view_reduction(args: argparse.Namespace) -> int:
    """Look at a reduction, or move its fragments by hand; what is kept goes to a new folder."""
    from trajplan.cli._reducing import write_reduced
    from trajplan.files import claim, read_reduction
    from trajplan.planner import load_reduction
    from trajplan.show import Adjusting, save_reduction_shot, show_adjusting

    if args.shot is not None:
        claim([args.shot], force=args.force)
        with handing_over(args):
            reduced = load_reduction(args.plan, args.case)
            save_reduction_shot(reduced, read_reduction(args.plan), args.shot)
            print(f"Written: {args.shot}", CAUTION_TEXT, sep="\n")
        return 0

    def keep(session: Adjusting) -> Path:
        folder = Path(args.plan).resolve().parent
        names = (folder.with_name(f"{folder.name}-edited-{number}") for number in count(1))
        out = next(name for name in names if not name.exists())
        with handing_over(args):
            write_reduced(session.reduced(), out, picture=False)
            print(f"Written: {out}")
        return out

    adjusting = Adjusting(load_reduction(args.plan, args.case))
    hush()
    show_adjusting(adjusting, keep)
    print(CAUTION_TEXT)
    return 0


def _can_show(shot: Path | None) -> None:
    """Refuse, before any work is done, where neither a window nor the picture can be made."""
    from trajplan.show import need_display, need_place

    if shot is None:
        need_display()
    need_place(shot, ".png")
