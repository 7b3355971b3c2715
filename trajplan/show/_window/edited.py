"""A plan whose axes may be moved by hand, and what it comes to as it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from trajplan.arrays import as_points, as_vector
from trajplan.files import TOLD, FindingRecord, worst_word
from trajplan.planner import judge_axes, plan_record
from trajplan.show._exports.export import axes_table

if TYPE_CHECKING:
    from trajplan.arrays import Vec3
    from trajplan.files import AxesTable, PlanFile, ScrewRecord
    from trajplan.planner import Assessment, Plan, Pressing, Setup

__all__ = ["Edited", "Hold", "ends_of", "moved", "opened", "settled", "with_plates"]

#: What of an axis is held: the end at the head, the end at the tip, or both together.
Hold: TypeAlias = Literal["entry", "target", "both"]

#: mm; entry and target are kept this far apart: a shorter axis would turn with every step.
LEAST_APART = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Edited:
    """A plan as it stands after some moves."""

    table: AxesTable  # the axes, entry and target of each
    record: PlanFile
    answer: Assessment | None  # the screws as worked out; None where there are none
    pressing: Pressing | None  # contact of the fracture; None where it is not known
    complete: bool  # whether placement error was worked out for just these axes


def opened(setup: Setup, record: PlanFile) -> Edited:
    """Take a plan as it was made; its record is kept to the letter.

    Parameters
    ----------
    setup : Setup
        Its case.
    record : PlanFile
        The plan.

    Returns
    -------
    Edited
    """
    table = axes_table(record)
    if not table.ids:
        return Edited(table, record, None, None, complete=True)
    plan = judge_axes(setup, table, placement=False)
    return Edited(table, record, plan.assessment, _pressing(plan), complete=True)


def ends_of(edited: Edited, row: int) -> tuple[Vec3, Vec3]:
    """Entry and target of a screw: where its axis meets the bone and leaves it.

    Parameters
    ----------
    edited : Edited
        The plan.
    row : int
        Row of the table.

    Returns
    -------
    entry, target : (3,) float arrays, mm
        The points that the axis was drawn through where it misses the bone.
    """
    screw = screw_of(edited, row)
    if screw.entry is None or screw.exit is None:
        return edited.table.start[row], edited.table.end[row]
    return as_vector(screw.entry), as_vector(screw.exit)


def screw_of(edited: Edited, row: int) -> ScrewRecord:
    """The record of a row of the table.

    Parameters
    ----------
    edited : Edited
        The plan.
    row : int
        Row of the table.

    Returns
    -------
    ScrewRecord
    """
    name = edited.table.ids[row]
    return next(screw for screw in edited.record.screws if screw.id == name)


def moved(
    setup: Setup, first: Edited, edited: Edited, row: int, ends: tuple[Vec3, Vec3]
) -> Edited | None:
    """Draw one axis anew and judge the plan again, all but placement error.

    Parameters
    ----------
    setup : Setup
        The case.
    first : Edited
        The plan as it was opened.
    edited : Edited
        The plan as it stands.
    row : int
        Row of the screw.
    ends : pair of (3,) float arrays, mm
        Entry and target.

    Returns
    -------
    Edited or None
        None where the two points are too near one another to be an axis.
    """
    start, end = edited.table.start.copy(), edited.table.end.copy()
    start[row], end[row] = (as_vector(point) for point in ends)
    if np.linalg.norm(end[row] - start[row]) < LEAST_APART:
        return None
    table = replace(edited.table, start=as_points(start), end=as_points(end))
    return _judged(setup, first, replace(edited, table=table), placement=False)


def settled(setup: Setup, first: Edited, edited: Edited) -> Edited:
    """Work out what is left: how much error the screws forgive.

    Parameters
    ----------
    setup : Setup
        The case.
    first : Edited
        The plan as it was opened.
    edited : Edited
        The plan as it stands.

    Returns
    -------
    Edited
        The same where nothing is left.
    """
    return edited if edited.complete else _judged(setup, first, edited, placement=True)


def _judged(setup: Setup, first: Edited, edited: Edited, *, placement: bool) -> Edited:
    plan = judge_axes(setup, edited.table, placement=placement, wires=first.record.wires)
    record = plan_record(plan)
    said = {"assumptions": (*record.assumptions, _by_hand(first, edited.table))}
    if not placement:
        said["cautions"] = (*record.cautions, NOT_COMPLETE)
    record = with_plates(record.model_copy(update=said), first.record)
    return Edited(edited.table, record, plan.assessment, _pressing(plan), placement)


def with_plates(record: PlanFile, first: PlanFile) -> PlanFile:
    """Keep the plates of a plan whose lag screws were moved, and say what is not known of them.

    Parameters
    ----------
    record : PlanFile
        The plan judged again, without plates.
    first : PlanFile
        The plan as it was opened.

    Returns
    -------
    PlanFile
        No better than the plates were, and `unknown` at best.
    """
    if not first.plates:
        return record
    findings = tuple(
        FindingRecord(
            rule="plate_beside",
            subject=plate.id,
            verdict="unknown",
            unit="",
            why="A lag screw was moved by hand: whether it keeps clear of the plate and its screws "
            "was not judged again. Plan the case again with it.",
            source="none: nothing was measured",
        )
        for plate in first.plates
    )
    found = [f for plate in first.plates for f in plate.findings]
    found += [f for plate in first.plates for screw in plate.screws for f in screw.findings]
    words = {record.verdict, worst_word((*found, *findings))}
    verdict = next((word for word in TOLD if word in words), "pass")
    return record.model_copy(
        update={
            "plates": first.plates,
            "findings": (*record.findings, *findings),
            "verdict": verdict,
        }
    )


def _pressing(plan: Plan) -> Pressing | None:
    return plan.outlook.pressing if plan.outlook is not None else None


NOT_COMPLETE = "How much error the screws forgive was not worked out since an axis was moved."


def _by_hand(first: Edited, table: AxesTable) -> str:
    """Note that an edited plan carries."""
    before = first.table
    still = (before.start == table.start).all(axis=1) & (before.end == table.end).all(axis=1)
    names = [name for name, kept in zip(table.ids, still, strict=True) if not kept]
    note = (
        f"This plan was edited by hand: the axes of {', '.join(names)} were moved in the viewer, "
        "all others stand as planned; nothing was chosen again, so there are no scores, no "
        "alternatives and no other numbers of screws."
        if names
        else "This plan was edited by hand and put back; it was judged again, without scores."
    )
    left_out = [screw.id for screw in first.record.screws if screw.id not in table.ids]
    if left_out:
        note += f" Left out, because the axis misses the bone: {', '.join(left_out)}."
    return note
