"""What to say when not enough screws fit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Finding, Verdict, clearance, too_near
from trajplan.planner._assess import work_out
from trajplan.planner._screen import Screening, Tally, screen

if TYPE_CHECKING:
    from trajplan.arrays import Ints
    from trajplan.implants import Screw
    from trajplan.planner._setup import Setup

__all__ = [
    "clearance_misses",
    "kinds_beaten",
    "kinds_kept",
    "kinds_left_out",
    "kinds_that_fit",
]

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


def kinds_kept(setup: Setup, found: Screening) -> list[Screw]:
    """Kinds of the case of which some candidate fails no rule.

    Parameters
    ----------
    setup, found : Setup, Screening
        The case and its screening.

    Returns
    -------
    list of Screw
    """
    kept = _counts(setup, found, found.kept)
    return [kind for kind, number in zip(setup.kinds, kept, strict=True) if number]


def kinds_left_out(setup: Setup, found: Screening) -> tuple[Finding, ...]:
    """Say of which kinds of the case no candidate fails nothing.

    Parameters
    ----------
    setup, found : Setup, Screening
        The case and its screening.

    Returns
    -------
    tuple of Finding
        One for each such kind.
    """
    fits = kinds_kept(setup, found)
    tried = _counts(setup, found, np.arange(len(found.candidates.axes)))
    return tuple(
        _left_out(
            Verdict.NOTE,
            f"Of {kind.kind} none of {number} candidates could be placed: "
            f"{_hindrance(setup, kind)}. The plan is made of the other kinds.",
        )
        for kind, number in zip(setup.kinds, tried, strict=True)
        if kind not in fits
    )


def kinds_beaten(setup: Setup, found: Screening) -> tuple[Finding, ...]:
    """Say which kinds fit, and are not looked at because others score better everywhere.

    Parameters
    ----------
    setup, found : Setup, Screening
        The case and its screening.

    Returns
    -------
    tuple of Finding
        One for each such kind; that others are better is no fault.
    """
    kept, offered = (_counts(setup, found, rows) for rows in (found.kept, found.pool.rows))
    return tuple(
        _left_out(
            Verdict.PASS,
            f"Of {kind.kind} {number} candidates fail no rule, but enough others score better: "
            "no plan holds one. To see what it gives, make it the only kind.",
        )
        for kind, number, chance in zip(setup.kinds, kept, offered, strict=True)
        if number and not chance
    )


def _counts(setup: Setup, found: Screening, rows: Ints) -> list[int]:
    """How many of some candidates are of each kind."""
    counts: list[int] = np.bincount(
        found.candidates.kind[rows], minlength=len(setup.kinds)
    ).tolist()
    return counts


def _left_out(verdict: Verdict, why: str) -> Finding:
    """Say why a kind that the case allows is offered nowhere."""
    return Finding(
        rule="kind_left_out",
        subject="plan",
        verdict=verdict,
        measured=None,
        limit=None,
        unit="",
        why=why,
        source="the case",
    )


def _hindrance(setup: Setup, kind: Screw) -> str:
    alone = screen(setup.with_kinds([kind]), count=TRIAL)
    if len(alone.kept):
        number = len(alone.candidates.axes)
        return f"on other lines {len(alone.kept)} of {number} would fit, so make it the only kind"
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
