"""From a plan's file back to the case that it was made from."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.errors import PlanFileError, about
from trajplan.files import read_case, read_plan, write_text_atomic
from trajplan.implants import read_bytes
from trajplan.outside import real_path
from trajplan.planner._plan import plan_case
from trajplan.planner._provenance import same_inputs
from trajplan.planner._record import plan_record
from trajplan.planner._setup import set_up

if TYPE_CHECKING:
    from trajplan.files import Case, PlanFile
    from trajplan.planner._setup import Setup

__all__ = ["SOURCE_FILE", "case_of", "load_plan", "note_case"]

#: File beside a plan that says where its case lies, so that the meshes are found again. Kept
#: out of the plan, whose bytes depend on the case alone.
SOURCE_FILE = "source.json"


def note_case(folder: Path, case: Path) -> None:
    """Write down beside a plan where its case lies.

    Parameters
    ----------
    folder : Path
        Where the plan is.
    case : Path
        The case file.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    where = Path(os.path.relpath(real_path(case), real_path(folder))).as_posix()
    write_text_atomic(folder / SOURCE_FILE, json.dumps({"case": where}) + "\n")


def load_plan(plan: Path, case: Path | None = None) -> tuple[Setup, PlanFile]:
    """Read a plan and set its case up, or plan a case.

    Parameters
    ----------
    plan : Path
        Plan file (JSON) or case file (TOML).
    case : Path, optional
        Case of the plan, where it has moved.

    Returns
    -------
    setup : Setup
    record : PlanFile

    Raises
    ------
    InputError
        If a file is missing or wrong, or the case or a mesh changed since it was planned.
    """
    if plan.suffix.lower() != ".json":
        known = read_case(plan)
        with about(plan):
            made = plan_case(known)
        return made.setup, plan_record(made)
    record = read_plan(plan)
    known = case_of(plan, case)
    with about(known.file):
        setup = set_up(known)
    same_inputs(setup, record, plan)
    return setup, record


def case_of(plan: Path, given: Path | None) -> Case:
    """Find the case that a plan, or a reduction, was made from."""
    if given is not None:
        return read_case(given)
    note = plan.parent / SOURCE_FILE
    try:
        told = json.loads(read_bytes(note, PlanFileError))
        case, changes = plan.parent / told["case"], told.get("changes")
    except (PlanFileError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise PlanFileError(
            "nothing beside the plan says where its case lies",
            remedy="name the case with --case",
            file=plan,
        ) from None
    return read_case(case, changes)
