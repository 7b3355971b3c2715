"""The outlook of a plan in hands: harm, less than planned, and what mends it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import ByHand, Odds, by_hand
from trajplan.files import (
    ChanceRecord,
    OddsRecord,
    PlacementRecord,
    WayRecord,
    WithoutRecord,
)
from trajplan.tolerance import PAIRS, RULES, WAYS, compared, place

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.checks import Finding, Limits
    from trajplan.planner._setup import Setup
    from trajplan.tolerance import Chances, Compared, ErrorWord, Hands, Scatter, WayWord

__all__ = ["ByHands", "hand_finding", "placement_of", "plan_placement", "try_hands"]

#: Share of the tries lost that must be won back by one error gone, for it to stand out.
STANDS_OUT = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class ByHands:
    """Chances of a plan by the way of drilling that the case takes, and by others."""

    way: WayWord
    scatter: Scatter
    chances: Chances
    compared: Compared | None  # None where nothing needs mending


def try_hands(
    setup: Setup,
    hands: Hands,
    ids: tuple[str, ...],
    scatter: Scatter,
    progress: Callable[[int, int], None] | None,
) -> ByHands:
    """Put the screws in as hands would; look for what mends it only where something is amiss.

    Parameters
    ----------
    setup : Setup
        The case.
    hands : Hands
        The plan and what it stands in.
    ids : tuple of str
        Names of the screws.
    scatter : Scatter
        How hands err.
    progress : callable or None
        Called with the axes done and all axes.

    Returns
    -------
    ByHands
    """
    way, limits = setup.case.placement.way, setup.limits
    chances = place(hands, ids, scatter, progress=progress)
    (_, harm, _), (_, less, _) = chances.of("plan", "harm"), chances.of("plan", "less")
    amiss = harm > limits.placement_harm or less > limits.placement
    other = compared(hands, ids, way, scatter) if amiss else None
    return ByHands(way, scatter, chances, other)


def hand_finding(found: ByHands, limits: Limits) -> Finding:
    """Judge whether hands can do it.

    Parameters
    ----------
    found : ByHands
        Chances of the plan.
    limits : Limits
        Limits of `by_hand`.

    Returns
    -------
    Finding
    """
    other = found.compared
    chances = found.chances
    return by_hand(
        _of_plan(found.way, chances),
        () if other is None else tuple(_of_plan(way, seen) for way, seen in other.ways.items()),
        limits,
        unknown=float(chances.unknown[chances.subjects.index("plan")]),
        costs="" if other is None else _dearest(chances, other.without),
    )


def _of_plan(way: WayWord, chances: Chances) -> ByHand:
    return ByHand(
        how=WAYS[way].how,
        harm=Odds(*chances.of("plan", "harm")),
        less=Odds(*chances.of("plan", "less")),
    )


def _dearest(chances: Chances, without: dict[ErrorWord, Chances]) -> str:
    """The error that costs most tries: of harm where there is any, else of all that is lost."""
    lost = _lost(chances)
    left = {error: _lost(seen) for error, seen in without.items()}
    error = min(left, key=lambda name: left[name])
    return error if lost - left[error] > STANDS_OUT * lost else ""


def _lost(chances: Chances) -> float:
    """Tries lost: harm counts in full, and so does less than planned."""
    return chances.of("plan", "harm")[0] + chances.of("plan", "less")[0]


def placement_of(chances: Chances, subject: str) -> PlacementRecord:
    """Chances of a screw, or of the plan, as a record.

    Parameters
    ----------
    chances : Chances
        Of a plan.
    subject : str
        Name of a screw, or "plan".

    Returns
    -------
    PlacementRecord
    """
    seen = {rule: chances.of(subject, rule) for rule in RULES}
    return PlacementRecord(
        harm=_odds(chances, subject, "harm"),
        less=_odds(chances, subject, "less"),
        unknown=float(chances.unknown[chances.subjects.index(subject)]),
        rules=tuple(
            ChanceRecord(rule=rule, chance=chance, low=low, high=high)
            for rule, (chance, low, high) in seen.items()
            if chance > 0.0
        ),
        untold=tuple(
            rule for rule, (chance, _, _) in seen.items() if np.isnan(chance) and rule not in PAIRS
        ),
    )


def plan_placement(found: ByHands) -> PlacementRecord:
    """Chances of the plan, with other ways of drilling, as a record.

    Parameters
    ----------
    found : ByHands
        Chances of the plan.

    Returns
    -------
    PlacementRecord
    """
    other, chances = found.compared, found.chances
    ways = {found.way: chances} | ({} if other is None else other.ways)
    without = {} if other is None else other.without
    return placement_of(chances, "plan").model_copy(
        update={
            "ways": tuple(
                WayRecord(
                    way=way, harm=_odds(seen, "plan", "harm"), less=_odds(seen, "plan", "less")
                )
                for way, seen in ways.items()
            ),
            "without": tuple(
                WithoutRecord(
                    error=error, harm=_odds(seen, "plan", "harm"), less=_odds(seen, "plan", "less")
                )
                for error, seen in without.items()
            ),
        }
    )


def _odds(chances: Chances, subject: str, rule: str) -> OddsRecord:
    chance, low, high = chances.of(subject, rule)
    return OddsRecord(chance=chance, low=low, high=high)
