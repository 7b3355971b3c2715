"""Screening: thousands of candidates through the cast and the rules, the best kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import joined, taken
from trajplan.checks import Verdict, screw_rulings
from trajplan.planner._assess import failing, work_out
from trajplan.planner._candidates import Candidates, candidates
from trajplan.planner._choose import pool
from trajplan.planner._rivals import scatter_of
from trajplan.planner._score import scores
from trajplan.planner._self_crossing import contradicts
from trajplan.planner._strength import quick_hold

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks import Ruling
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["Pool", "Screening", "Tally", "screen"]

#: Candidates cast at a time: enough to keep every core busy, few enough that rays,
#: crossings and spans stay well under a gigabyte.
BATCH = 4096


@dataclass(frozen=True, slots=True)
class Tally:
    """What one rule cost."""

    rule: str
    turned_away: int  # candidates that it failed
    nearest_miss: float  # least excess over the limit; NaN where nothing was measured
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """The best candidates, those of every place first, as they were screened."""

    rows: Ints  # (m,) of the candidates
    place: Ints  # (m,) on the fracture
    score: Floats  # (m,)
    screws: Trajectories


@dataclass(frozen=True, slots=True, eq=False)
class Screening:
    """Candidates that fail no rule, and what the rules cost."""

    candidates: Candidates
    kept: Ints  # (m,) rows of the candidates that fail nothing
    pool: Pool  # of them, what the choice looks at
    tally: tuple[Tally, ...]
    doubt: bool  # on the way of some candidate bone could not be told from air


def screen(setup: Setup, *, count: int | None = None) -> Screening:
    """Cast and judge candidates for every kind of the setup.

    Parameters
    ----------
    setup : Setup
        The case.
    count : int, optional
        Candidates to make; by default the case's own number.

    Returns
    -------
    Screening
    """
    limits, wanted = setup.limits, max(setup.case.screws.count, 1)
    found = candidates(
        setup.around.zones,
        kinds=len(setup.kinds),
        count=setup.case.screws.candidates if count is None else count,
        max_tilt=limits.planned_tilt,
        plane=setup.around.parallel,
        thread=max(screw.thread_diameter for screw in setup.kinds),
        aim=setup.around.aim,
    )
    kept: list[Ints] = []
    pools: list[Pool] = []  # the best of all are among the best of each batch
    tallies: dict[str, Tally] = {}
    doubt = False
    for first in range(0, len(found.axes), BATCH):
        rows = np.arange(first, min(first + BATCH, len(found.axes)))
        screws = work_out(setup, found.axes.take(rows), found.kind[rows], found.zone[rows])
        rulings = screw_rulings(screws, limits, setup.around, measure=False)
        doubt = doubt or contradicts(screws.corridors)
        good = np.flatnonzero(~failing(rulings, len(rows)))
        kept.append(rows[good])
        hold = quick_hold(setup, screws, good)
        hand = scatter_of(setup).entry
        score = scores(screws, rulings, limits, setup.around.zones, hand, hold)[good]
        place = found.place[rows[good]]
        some = np.sort(pool(score, place, wanted))  # by row: of equals the first stays first
        pools.append(Pool(rows[good][some], place[some], score[some], screws.take(good[some])))
        _add(tallies, rulings)
    best = reduce(joined, pools)
    return Screening(
        candidates=found,
        kept=np.concatenate(kept),
        pool=taken(best, pool(best.score, best.place, wanted)),
        tally=tuple(tallies.values()),
        doubt=doubt,
    )


def _add(tallies: dict[str, Tally], rulings: Sequence[Ruling]) -> None:
    seen: dict[str, Bools] = {}  # a rule may come once for each of several obstacles
    for ruling in rulings:
        failed = ruling.verdict == Verdict.FAIL
        miss = np.abs(ruling.measured - ruling.limit)[failed]
        before = tallies.get(ruling.rule, Tally(ruling.rule, 0, np.nan, ruling.unit))
        already = seen.get(ruling.rule, np.zeros(len(failed), dtype=np.bool_))
        seen[ruling.rule] = already | failed
        tallies[ruling.rule] = Tally(
            rule=ruling.rule,
            turned_away=before.turned_away + int((failed & ~already).sum()),
            nearest_miss=float(np.fmin.reduce(miss, initial=before.nearest_miss)),
            unit=ruling.unit,
        )
