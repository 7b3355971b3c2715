"""Can hands do it: the chance of harm, and of less than planned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Verdict

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits

__all__ = ["ByHand", "Odds", "by_hand"]


@dataclass(frozen=True, slots=True)
class Odds:
    """A chance and its 95 % interval, shares of tries."""

    chance: float
    low: float
    high: float

    @property
    def text(self) -> str:
        """In per cent, with the interval."""
        return f"{100 * self.chance:.0f} % ({100 * self.low:.0f} to {100 * self.high:.0f})"


@dataclass(frozen=True, slots=True)
class ByHand:
    """What comes of a plan that is drilled in one way."""

    how: str  # "free hand", "through a sleeve or an aiming arm"
    harm: Odds
    less: Odds  # less than planned, without harm


def by_hand(
    taken: ByHand,
    others: tuple[ByHand, ...],
    limits: Limits,
    *,
    unknown: float,
    costs: str = "",
) -> Finding:
    """Judge whether hands can put a plan into the bone, and which way of drilling it needs.

    Parameters
    ----------
    taken : ByHand
        The way that the case takes.
    others : tuple of ByHand
        Other ways, the least trouble first; empty where nothing needs mending.
    limits : Limits
        ``placement`` for less than planned, ``placement_harm`` and ``placement_harm_most``
        for harm; shares.
    unknown : float
        Share of tries that could not be told.
    costs : str
        The error that costs most: "entry", "direction" or "plunge"; empty where none stands out.

    Returns
    -------
    Finding
        For the plan; measures in per cent the chance that lies nearest to its limit. Fails
        where even the best way does harm too often.
    """
    best = min((taken, *others), key=lambda way: (way.harm.chance, way.less.chance))
    harmful = taken.harm.low > limits.placement_harm
    said = (
        f"Drilled {taken.how}, {taken.harm.text} of tries would do harm, and {taken.less.text} "
        "would do less than planned"
    )
    verdict = Verdict.PASS
    if best.harm.low > limits.placement_harm_most:
        verdict = Verdict.FAIL
        why = (
            f"{said}. Even {best.how} {best.harm.text} would do harm: hands cannot follow this "
            "plan safely. Choose another line."
        )
    elif np.isnan(taken.harm.chance) or unknown > limits.placement:
        verdict = Verdict.UNKNOWN
        why = (
            f"How well hands follow the plan cannot be told: {100 * unknown:.0f} % of tries end "
            "where the input leaves it open. Mend what keeps it open: a surface that is open or "
            "crosses itself, or a wall that nobody knows (`bone.cortex`, `bone.place`)."
        )
    elif harmful or taken.less.low > limits.placement:
        verdict = Verdict.CAUTION
        why = f"{said}.{_cost(costs)} {_mends(taken, others, limits)}"
    else:
        why = f"{said}."
    if verdict is Verdict.FAIL:
        judged, limit = best.harm, limits.placement_harm_most
    elif harmful or (verdict is not Verdict.CAUTION and _nearer(taken, limits)):
        judged, limit = taken.harm, limits.placement_harm
    else:
        judged, limit = taken.less, limits.placement
    return Finding(
        rule="by_hand",
        subject="plan",
        verdict=verdict,
        measured=100.0 * judged.chance if np.isfinite(judged.chance) else None,
        limit=100.0 * limit,
        unit="%",
        why=why,
        source="published spread of each way of drilling, see the assumptions; wires set again: "
        "PMC6595101, abstract; limits: assumption",
    )


def _nearer(way: ByHand, limits: Limits) -> bool:
    """Whether harm lies nearer to its limit than less than planned does to its own."""
    return way.harm.chance * limits.placement >= way.less.chance * limits.placement_harm


def _cost(costs: str) -> str:
    told = {
        "entry": "the error at the entry",
        "direction": "the error in direction",
        "plunge": "the plunge of the drill",
    }
    return f" Of the errors, {told[costs]} costs most." if costs else ""


def _mends(taken: ByHand, others: tuple[ByHand, ...], limits: Limits) -> str:
    """Which way of drilling to decide on, with its numbers."""
    enough = [
        way
        for way in others
        if way.harm.chance <= limits.placement_harm and way.less.chance <= limits.placement
    ]
    better = min((way for way in others if _lost(way) < _lost(taken)), key=_lost, default=None)
    if enough:
        way = enough[0]
        return f"Decide on drilling {way.how}: {_numbers(way)}."
    if better is None:
        return f"No other way of drilling mends it: choose a line that forgives more, or {WIRES}."
    return (
        f"The best way of drilling is {better.how} ({_numbers(better)}), and it does not mend it "
        f"all: decide on that and {WIRES}, or choose a line that forgives more."
    )


#: What hands do where no way of drilling is sure enough: free hand each guide wire of a femoral
#: neck was set anew 2.4 times on average (PMC6595101, abstract).
WIRES = "set wires first, look at them in two planes, and set again what is off"


def _lost(way: ByHand) -> tuple[float, float]:
    return way.harm.chance, way.less.chance


def _numbers(way: ByHand) -> str:
    return f"{way.harm.text} harm, {way.less.text} less than planned"
