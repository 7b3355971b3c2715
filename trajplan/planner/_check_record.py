"""A table of axes, however long, judged block by block."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING

from trajplan.bone import make_bone
from trajplan.checks import worst
from trajplan.planner._check import judge_axes
from trajplan.planner._record import plan_record
from trajplan.planner._setup import set_up

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.files import AxesTable, Case, PlanFile
    from trajplan.planner._setup import BoneMaker

__all__ = ["check_record"]

#: Axes that are worked out at once: their arrays hold about half a megabyte each (measured), and
#: a block is large enough that what is done once a block does not show.
BLOCK = 250


def check_record(case: Case, table: AxesTable, *, make: BoneMaker = make_bone) -> PlanFile:
    """Judge axes that somebody else drew, and keep of each what a plan file holds.

    Parameters
    ----------
    case : Case
        The case; its kinds and technique are those of the table's rows instead.
    table : AxesTable
        The axes, in mm.
    make : callable
        Makes the bone, see `set_up`.

    Returns
    -------
    PlanFile
        That of `check_axes`, but for the memory that it takes to make.

    Raises
    ------
    InputError
        If the case cannot be set up, or a row names an unknown screw.
    """
    setup = set_up(case, make=make)
    parts, verdicts = [], []
    for block in _blocks(table):
        plan = judge_axes(setup, block, part_of=table)
        parts.append(plan_record(plan))
        verdicts.append(plan.verdict)
    return parts[0].model_copy(
        update={
            "screws": tuple(chain.from_iterable(part.screws for part in parts)),
            # of the plan as a whole: what some block found holds for all of them
            "findings": tuple(dict.fromkeys(chain.from_iterable(p.findings for p in parts))),
            "cautions": tuple(dict.fromkeys(chain.from_iterable(p.cautions for p in parts))),
            "assumptions": tuple(dict.fromkeys(chain.from_iterable(p.assumptions for p in parts))),
            "verdict": worst(verdicts).word,
        }
    )


def _blocks(table: AxesTable) -> Iterator[AxesTable]:
    for begin in range(0, len(table.ids), BLOCK):
        rows = slice(begin, begin + BLOCK)
        yield replace(
            table,
            ids=table.ids[rows],
            kinds=table.kinds[rows],
            techniques=table.techniques[rows],
            start=table.start[rows],
            end=table.end[rows],
            rows=table.rows[rows],
        )
