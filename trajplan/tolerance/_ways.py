"""Which error costs most, and which way of drilling mends it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias

from trajplan.tolerance._placement import place_each
from trajplan.tolerance._scatter import WAYS

if TYPE_CHECKING:
    from trajplan.tolerance._chances import Chances
    from trajplan.tolerance._placement import Hands
    from trajplan.tolerance._scatter import Scatter, WayWord

__all__ = ["Compared", "ErrorWord", "compared", "scatter_of_way"]

#: Tries of another way, and without an error, for each try of the way taken: enough to tell one
#: of several from the others, a fraction of the time. Intervals tell how far to trust them.
OTHER_WAYS, WITHOUT = 0.2, 0.1
#: Fewer tries than this tell nothing apart.
LEAST_TRIES = 50
#: Errors that are switched off in turn.
ErrorWord: TypeAlias = Literal["entry", "direction", "plunge"]


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """Chances of a plan by other ways of drilling, and without each error of the way taken."""

    ways: dict[WayWord, Chances]
    without: dict[ErrorWord, Chances]


def scatter_of_way(way: WayWord, scatter: Scatter) -> Scatter:
    """The published spread of a way of drilling, with the draws of another.

    Parameters
    ----------
    way : {"free hand", "sleeve", "guide"}
        The way.
    scatter : Scatter
        Its plunge, draws and seed are kept.

    Returns
    -------
    Scatter
    """
    spread = WAYS[way]
    return replace(scatter, entry=spread.entry, direction=spread.direction, slant=spread.slant)


def compared(hands: Hands, ids: tuple[str, ...], way: WayWord, scatter: Scatter) -> Compared:
    """Put the screws in by the other ways, and without each error in turn.

    Parameters
    ----------
    hands : Hands
        The plan and what it stands in.
    ids : tuple of str
        Names of the screws.
    way : {"free hand", "sleeve", "guide"}
        The way that is taken.
    scatter : Scatter
        How hands err in it.

    Returns
    -------
    Compared
        By fewer tries than the way taken, see `OTHER_WAYS` and `WITHOUT`.
    """
    seldom = _fewer(scatter, WITHOUT)
    still: dict[ErrorWord, Scatter] = {
        "entry": replace(seldom, entry=0.0),
        "direction": replace(seldom, direction=0.0, slant=0.0),
        "plunge": replace(seldom, plunge=0.0),
    }
    others = [other for other in WAYS if other != way]
    ways = [scatter_of_way(other, _fewer(scatter, OTHER_WAYS)) for other in others]
    found = place_each(hands, ids, (*ways, *still.values()))
    return Compared(
        ways=dict(zip(others, found[: len(others)], strict=True)),
        without=dict(zip(still, found[len(others) :], strict=True)),
    )


def _fewer(scatter: Scatter, share: float) -> Scatter:
    draws = max(round(share * scatter.draws), min(scatter.draws, LEAST_TRIES))
    return replace(scatter, draws=draws)
