"""What to say when not enough screws fit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Finding, Verdict, clearance, too_near
from trajplan.planner._assess import work_out
from trajplan.planner._screen import Screening, Tally, screen

if TYPE_CHECKING:
    from trajplan.implants import Screw
    from trajplan.planner._setup import Setup

__all__ = ["clearance_misses", "kinds_left_out", "kinds_that_fit"]

#: Candidates tried for each other screw of the catalogue.
TRIAL = 400
#: Candidates whose exact clearance is measured for the nearest miss.
MEASURED = 400


def kinds_that_fit(setup: Setup) -> list[str]:
    """Screws of the catalogue, other than those wanted, that would fail no rule.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    list of str
        Kinds, in the catalogue's order.
    """
    wanted = {screw.kind for screw in setup.kinds}
    others = [screw for screw in setup.catalogue.screws.values() if screw.kind not in wanted]
    return [
        screw.kind for screw in others if len(screen(setup.with_kinds([screw]), count=TRIAL).kept)
    ]


def kinds_left_out(setup: Setup, found: Screening) -> tuple[Finding, ...]:
    """Say of which kinds of the case no screw is offered, where there is a choice.

    Parameters
    ----------
    setup : Setup
        The case.
    found : Screening
        Its screening.

    Returns
    -------
    tuple of Finding
        One for each such kind; none where a plan of no screws says it all.
    """
    tried = np.bincount(found.candidates.kind, minlength=len(setup.kinds))
    kept = np.bincount(found.candidates.kind[found.kept], minlength=len(setup.kinds))
    offered = np.bincount(found.candidates.kind[found.pool.rows], minlength=len(setup.kinds))
    if not offered.any():
        return ()
    return tuple(
        _left_out(setup, setup.kinds[row], int(kept[row]), int(tried[row]))
        for row in np.flatnonzero(offered == 0).tolist()
    )


def _left_out(setup: Setup, kind: Screw, kept: int, tried: int) -> Finding:
    if kept:
        why = (
            f"Of {kind.kind} {kept} of {tried} candidates fail no rule, but enough others score "
            "better: no plan holds one. To see what it gives, make it the only kind."
        )
    else:
        why = (
            f"Of {kind.kind} none of {tried} candidates could be placed, so no plan holds one: "
            f"{_hindrance(setup, kind)}."
        )
    return Finding(
        rule="kind_left_out",
        subject="plan",
        verdict=Verdict.CAUTION,
        measured=0.0,
        limit=1.0,
        unit="screws",
        why=why,
        source="the case",
    )


def _hindrance(setup: Setup, kind: Screw) -> str:
    alone = screen(setup.with_kinds([kind]), count=TRIAL)
    if len(alone.kept):
        return f"tried alone, {len(alone.kept)} of {len(alone.candidates.axes)} would fit"
    costly = max(alone.tally, key=lambda tally: tally.turned_away)
    return f"the rule {costly.rule} turns most away"


def clearance_misses(setup: Setup, found: Screening) -> tuple[Tally, ...]:
    """Measure the nearest miss of the clearances, which screening only decides.

    Parameters
    ----------
    setup : Setup
        The case.
    found : Screening
        Its screening.

    Returns
    -------
    tuple of Tally
        The screening's tally, completed.
    """
    rows = np.unique(np.linspace(0, len(found.candidates.axes) - 1, MEASURED).astype(np.int64))
    some = found.candidates
    screws = work_out(setup, some.axes.take(rows), some.kind[rows], some.zone[rows])
    misses: dict[str, float] = {}
    for obstacle in setup.around.obstacles:
        near = too_near(screws, obstacle)
        if not (near.verdict == Verdict.FAIL).any():
            continue
        exact = clearance(screws, obstacle)
        failed = exact.verdict == Verdict.FAIL
        miss = float(np.min((exact.limit - exact.measured)[failed]))
        misses[exact.rule] = min(miss, misses.get(exact.rule, np.inf))
    return tuple(
        replace(tally, nearest_miss=misses.get(tally.rule, tally.nearest_miss))
        for tally in found.tally
    )
