"""Choosing lag screws and plates together: sets through plates, and what a plate adds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import BODY_CLEAR
from trajplan.planner._plate_fit import FAIL_COST

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.planner._plating import Plating

__all__ = ["bonus_of", "sets_beside", "sets_through"]

#: Lag screws through plates that sets are built on.
STARTS = 8
#: Places of a plate that lag screws are sought beside.
PLACES = 6
#: Added for a lag screw through the plate where that is how the fracture is pressed: it goes in
#: after the plate has pressed along the bone (AO Foundation, online surgery reference, basic
#: technique, compression plates, oblique).
THROUGH = 1.0
#: Worth of a set of lag screws beside which a plate finds no place at all.
NO_PLACE = -10.0 * FAIL_COST


def sets_through(plating: Plating, score: Floats, pair: Floats, count: int) -> list[Ints]:
    """Sets of lag screws of which one runs through a plate.

    Parameters
    ----------
    plating : Plating
        The plates; their lag screws come after the ordinary ones.
    score : (m,) float array
        Scores of all lag screws.
    pair : (m, m) float array
        What each pair adds.
    count : int
        Lag screws wanted.

    Returns
    -------
    list of int arrays
        Rows: each of the best through a plate by itself, and with the best others there are.
    """
    first = plating.ordinary
    if plating.through is None or count == 0:
        return []
    inner = first + np.argsort(-score[first:], kind="stable")[:STARTS]
    sets: list[Ints] = []
    for start in inner:
        chosen = np.array([start])
        sets.append(chosen)
        while len(chosen) < count:
            gain = score + pair[:, chosen].sum(axis=1)
            gain[chosen] = -np.inf
            gain[_elsewhere(plating, int(start), len(score))] = -np.inf
            best = int(gain.argmax())
            if not np.isfinite(gain[best]):
                break
            chosen = np.append(chosen, best)
            sets.append(chosen)
    return sets


def sets_beside(plating: Plating, score: Floats, pair: Floats, count: int) -> list[Ints]:
    """Sets of lag screws that leave room for the plates where they would lie best.

    Parameters
    ----------
    plating, score, pair, count
        As for `sets_through`.

    Returns
    -------
    list of int arrays
        Rows, none through a plate: for each of the best places of every plate the best screws
        that its body does not meet, added one by one.
    """
    first = plating.ordinary
    sets: list[Ints] = []
    for number in range(len(plating.wishes) if count else 0):
        found = sorted(plating.found(number, ()), key=lambda one: -one.worth)[:PLACES]
        for place in found:
            index = plating.places[number].index(place.places)
            body = plating.near[number][index].body[place.row, :first]
            room = np.where(body >= BODY_CLEAR, score[:first], -np.inf)
            chosen = np.empty(0, dtype=np.int64)
            while len(chosen) < count:
                gain = room + pair[:first][:, chosen].sum(axis=1)
                gain[chosen] = -np.inf
                if not np.isfinite(gain.max(initial=-np.inf)):
                    break
                chosen = np.append(chosen, int(gain.argmax()))
            if len(chosen):
                sets.append(chosen)
    return sets


def _elsewhere(plating: Plating, start: int, total: int) -> Ints:
    """Lag screws through plates that lie elsewhere, or through the same hole."""
    it, first = plating.through, plating.ordinary
    assert it is not None
    mine = start - first
    same = (
        (it.plate == it.plate[mine])
        & (it.places == it.places[mine])
        & (it.row == it.row[mine])
        & (it.hole != it.hole[mine])
    )
    rows: Ints = np.arange(first, total)[~same]
    return rows


def bonus_of(plating: Plating, sets: Sequence[Ints]) -> list[float]:
    """What the best places of all plates add to each set of lag screws.

    Parameters
    ----------
    plating : Plating
        The plates.
    sets : sequence of int arrays
        Sets of lag screws.

    Returns
    -------
    list of float
        Far below zero where a plate finds no place.
    """
    return [_bonus(plating, rows.tolist()) for rows in sets]


def _bonus(plating: Plating, rows: list[int]) -> float:
    total = 0.0
    for number, (found, _) in enumerate(plating.best(rows)):
        total += NO_PLACE if found is None else found.worth
        if found is not None and found.lag and plating.works[number].work == "compress":
            total += THROUGH
    return total
