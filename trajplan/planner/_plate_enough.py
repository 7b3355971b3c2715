"""Which holes of a plate are filled: as many as are of use, and spread along it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.planner._plate_places import Places
    from trajplan.planner._plate_wish import PlateWish
    from trajplan.planner._setup import Setup

__all__ = ["both_walls", "enough"]


def enough(
    setup: Setup, wish: PlateWish, places: Places, row: int, choice: Ints, push: Sequence[int]
) -> Ints:
    """Leave those holes empty that add nothing on their side of the fracture.

    Parameters
    ----------
    setup : Setup
        The case; ``plate_enough`` of its limits, screws.
    wish : PlateWish
        The plate.
    places : Places
        Plates.
    row : int
        The plate among them.
    choice : (h,) int array
        What could stand in each hole; -1: nothing.
    push : sequence of int
        Holes whose screws push the plate.

    Returns
    -------
    (h,) int array
        On either side the screw nearest to the fracture stays, the furthest from it, and between
        them the best spread. A screw of which the surface does not tell where it runs, one
        through a single wall, and one where the plate stands off the bone are the last to stay.
    """
    most = max(wish.least, round(setup.limits.plate_enough))
    kept = choice.copy()
    sound = places.told[row, np.arange(len(choice)), choice] & both_walls(places, row, choice)
    sound &= ~(places.laid.hole_gap[row] > setup.limits.plate_fit)
    for side in (-1, 1):
        holes = np.flatnonzero((choice >= 0) & (places.side[row] == side))
        away = np.abs(places.along[row][holes])
        stay = _spread(away, sound[holes], np.isin(holes, push), most)
        kept[np.delete(holes, stay)] = -1
    return kept


def both_walls(places: Places, row: int, choice: Ints) -> Bools:
    """Whether the screw in each hole holds in both walls.

    Parameters
    ----------
    places, row, choice
        As for `enough`.

    Returns
    -------
    (h,) bool array
        False where the hole is empty.
    """
    every = places.screws.screws.bicortical.reshape(places.shape)[row]
    both: Bools = every[np.arange(len(choice)), choice] & (choice >= 0)
    return both


def _spread(away: Floats, sound: Bools, first: Bools, most: int) -> list[int]:
    """Rows of the holes that stay, at most so many, by their distance to the fracture."""
    stay: list[int] = np.flatnonzero(first)[:most].tolist()
    for rows in (np.flatnonzero(sound & ~first), np.flatnonzero(~sound & ~first)):
        left = rows.tolist()
        while left and len(stay) < most:
            if not stay:
                best = min(left, key=lambda one: away[one])
            elif len(stay) == 1:
                best = max(left, key=lambda one: abs(away[one] - away[stay[0]]))
            else:
                best = max(left, key=lambda one: np.abs(away[one] - away[stay]).min())
            stay.append(best)
            left.remove(best)
    return stay
