"""A table of axes, however long, judged block by block."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING, Any

from trajplan.bone import make_bone
from trajplan.checks import Verdict, worst
from trajplan.files import Kept
from trajplan.planner._check import judge_axes
from trajplan.planner._record import PLACES_UP_TO, plan_record
from trajplan.planner._setup import set_up

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trajplan.files import AxesTable, Case, FindingRecord, PlanFile, ScrewRecord
    from trajplan.planner._plan import Plan
    from trajplan.planner._setup import BoneMaker

__all__ = ["check_record"]

#: Axes that are worked out at once: their arrays hold about half a megabyte each (measured), and
#: a block is large enough that what is done once a block does not show.
BLOCK = 250
#: Keys of the record in which every block has its say.
TOGETHER = ("findings", "cautions", "assumptions")


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
        That of `check_axes`, but for the memory that it takes: the screws of a long table lie on
        the disk, see `Kept`, and stand where a short one has a tuple.

    Raises
    ------
    InputError
        If the case cannot be set up, or a row names an unknown screw.
    OSError
        If the folder for temporary files has no room for a long table.
    """
    setup = set_up(case, make=make)
    blocks, found = _blocks(table), _OfAll()
    first = found.screws_of(judge_axes(setup, next(blocks), part_of=table, plates=True))
    judged = (found.screws_of(judge_axes(setup, block, part_of=table)) for block in blocks)
    short = len(table.ids) <= BLOCK
    screws = first if short else Kept(chain([first], judged))
    changed: dict[str, object] = {"screws": screws, **found.told()}
    if len(table.ids) > PLACES_UP_TO:  # a block may hold fewer
        changed["places"] = ()
    return found.record.model_copy(update=changed)


class _OfAll:
    """What blocks say of the plan as a whole: what some block found holds for all of them."""

    def __init__(self) -> None:
        self.record: PlanFile  # of the last block, for what is the same in every one
        self._told: dict[str, dict[Any, None]] = {name: {} for name in TOGETHER}  # in order
        self._verdicts: set[Verdict] = set()

    def screws_of(self, plan: Plan) -> tuple[ScrewRecord, ...]:
        """Take in a block, and hand over its screws."""
        self.record = plan_record(plan)
        for name, told in self._told.items():
            told.update(dict.fromkeys(getattr(self.record, name)))
        self._verdicts.add(plan.verdict)
        return self.record.screws

    def told(self) -> dict[str, object]:
        """Keys of the record that blocks settle together."""
        told = {name: tuple(found) for name, found in self._told.items()}
        return {
            **told,
            "findings": _settled(told["findings"]),
            "verdict": worst(list(self._verdicts)).word,
        }


def _settled(findings: Sequence[FindingRecord]) -> tuple[FindingRecord, ...]:
    """What holds of every block: a note that another block cannot give is none."""
    untold = {(one.rule, one.subject) for one in findings if one.verdict == Verdict.UNKNOWN.word}
    return tuple(
        one
        for one in findings
        if one.verdict != Verdict.NOTE.word or (one.rule, one.subject) not in untold
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
