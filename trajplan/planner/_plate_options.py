"""Places of a plate that were weighed and not chosen, and what each rule cost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3
    from trajplan.planner._plate_fit import Found
    from trajplan.planner._plate_wish import Work

__all__ = ["PlateOption", "PlateTally", "place_options", "place_tally"]

#: Other places that a plan tells of.
MOST = 3
#: mm and degrees by which a place differs at the least from those told before it.
OTHER_SLIDE, OTHER_TURN = 5.0, 15.0
#: Share of the underside near the bone, and screws, that make a difference worth saying.
LESS_FIT = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class PlateOption:
    """A place that was not chosen."""

    kind: str
    holes: int
    work: Work
    side: Vec3  # (3,) out of the bone at its middle
    slide: float  # mm along the bone from the chosen one
    turn: float  # degrees round the bone from it
    screws: int
    fails: bool
    why: str  # what is worse about it


@dataclass(frozen=True, slots=True)
class PlateTally:
    """What one rule cost."""

    rule: str
    places: int
    nearest_miss: float
    unit: str


def place_options(best: Found, every: Sequence[Found], work: Work) -> tuple[PlateOption, ...]:
    """The next-best places that differ from the chosen one and from one another.

    Parameters
    ----------
    best : Found
        The chosen place.
    every : sequence of Found
        All places beside the same lag screws.
    work : str
        What the plate does.

    Returns
    -------
    tuple of PlateOption
    """
    told = [best]
    options: list[PlateOption] = []
    for other in sorted(every, key=lambda one: -one.worth):
        if len(options) == MOST:
            break
        if any(_alike(other, one) for one in told):
            continue
        told.append(other)
        options.append(_option(best, other, work))
    return tuple(options)


def _alike(one: Found, other: Found) -> bool:
    slide, turn = _moved(one, other)
    same = one.places.laid.holes == other.places.laid.holes
    return one is other or (same and abs(slide) < OTHER_SLIDE and turn < OTHER_TURN)


def _moved(one: Found, other: Found) -> tuple[float, float]:
    """Mm along and degrees round from one place to another."""
    a, b = one.places.laid, other.places.laid
    start, end = a.shape.points[one.row, a.strip.middle], b.shape.points[other.row, b.strip.middle]
    frame, turned = (
        a.shape.frames[one.row, a.strip.middle],
        b.shape.frames[other.row, b.strip.middle],
    )
    cosine = float(np.clip(frame[2] @ turned[2], -1.0, 1.0))
    return float((end - start) @ frame[0]), float(np.degrees(np.arccos(cosine)))


def _option(best: Found, other: Found, work: Work) -> PlateOption:
    laid = other.places.laid
    slide, turn = _moved(best, other)
    return PlateOption(
        kind=laid.plate.kind,
        holes=laid.holes,
        work=work,
        side=laid.shape.frames[other.row, laid.strip.middle, 2],
        slide=slide,
        turn=turn,
        screws=int((other.choice >= 0).sum()) + len(other.lag),
        fails=bool(other.fails),
        why=_worse(best, other),
    )


#: What a failing place does, by the rule.
WORDS = {
    "screws_each_side": "too few screws hold one side",
    "buttress_reach": "it does not reach the fragment",
    "plate_on_bone": "part of it has no bone below",
    "plate_meets_screw": "it meets a lag screw",
    "eccentric_screws": "no hole for an eccentric screw is left",
}


def _worse(best: Found, other: Found) -> str:
    if other.fails:
        said = " and ".join(dict.fromkeys(WORDS[rule] for rule, _ in other.fails))
        return f"{said[0].upper()}{said[1:]}."
    mine, theirs = ((f.choice >= 0).sum() + len(f.lag) for f in (best, other))
    near, far = (float(f.places.laid.share_within(1.0)[f.row]) for f in (best, other))
    if far < near - LESS_FIT:
        return f"Only {100 * far:.0f} % of it lies within 1 mm of the bone, not {100 * near:.0f} %."
    if theirs < mine:
        return f"It holds {theirs} screws, not {mine}."
    return "It lies further from the side or the middle that is wanted, and is as good else."


UNITS = {"screws_each_side": "screws", "buttress_reach": "mm", "plate_on_bone": "share",
         "plate_meets_screw": "mm", "eccentric_screws": "screws"}  # fmt: skip


def place_tally(every: Sequence[Found]) -> tuple[PlateTally, ...]:
    """What each rule cost in the search for a place.

    Parameters
    ----------
    every : sequence of Found
        All places.

    Returns
    -------
    tuple of PlateTally
    """
    rules = dict.fromkeys(rule for one in every for rule, _ in one.fails)
    return tuple(
        PlateTally(
            rule=rule,
            places=sum(any(r == rule for r, _ in one.fails) for one in every),
            nearest_miss=min(miss for one in every for r, miss in one.fails if r == rule),
            unit=UNITS[rule],
        )
        for rule in rules
    )
