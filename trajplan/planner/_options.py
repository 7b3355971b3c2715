"""What another number or kind of screw would give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner._choose import POOL_SIZES, best_set
from trajplan.planner._pressing import friction_range, press
from trajplan.planner._strength import forces_of

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.planner._setup import Setup
    from trajplan.planner._strength import ScrewForces
    from trajplan.trajectory import Trajectories

__all__ = ["Option", "best_of_kind", "options"]

#: Largest number of screws that is looked at.
MOST = 3


@dataclass(frozen=True, slots=True)
class Option:
    """The best plan of so many screws of one kind; NaN is unknown."""

    kind: str
    count: int
    holding: float  # N, low end of the weakest screw
    squeeze: float  # N, of all of them, at the estimate
    share: float  # of the fracture in contact
    slip_low: float  # friction over shear of the surfaces that are pressed, least friction
    unpressed: int  # surfaces that no screw presses


def options(
    setup: Setup, score: Floats, pair: Floats, screws: Trajectories, plan: Ints
) -> tuple[Option, ...]:
    """Best plans of one, two and three screws of each kind of the case.

    Parameters
    ----------
    setup : Setup
        The case.
    score : (m,) float array
        Scores of the candidates.
    pair : (m, m) float array
        What each pair adds.
    screws : Trajectories
        The candidates.
    plan : (k,) int array
        Rows of the plan's own screws: it stands for its number and kind, if it is of one.

    Returns
    -------
    tuple of Option
        Those that exist.
    """
    sets = []
    kinds = screws.dims.kind[plan]
    for number in range(len(setup.kinds)):
        for count in range(1, MOST + 1):
            own = len(plan) == count and (kinds == number).all()
            chosen = plan if own else best_of_kind(score, pair, screws, number, count)
            if len(chosen):
                sets.append(chosen)
    if not sets:
        return ()
    every, at = np.unique(np.concatenate(sets), return_inverse=True)
    some = screws.take(every)
    forces = forces_of(setup, some)
    parts = np.split(at, np.cumsum([len(rows) for rows in sets])[:-1])
    return tuple(_option(setup, some.take(rows), forces.take(rows)) for rows in parts)


def best_of_kind(
    score: Floats, pair: Floats, screws: Trajectories, number: int, count: int
) -> Ints:
    """Best set of one kind of screw.

    Parameters
    ----------
    score, pair, screws
        As for `options`.
    number : int
        Row of the kind.
    count : int
        Size of the set.

    Returns
    -------
    (count,) int array
        Rows; empty where no such set exists.
    """
    rows = np.flatnonzero(screws.dims.kind == number)
    best = rows[: POOL_SIZES[count]]  # rows come in the order of their places' best
    chosen, _ = best_set(score[best], pair[np.ix_(best, best)], count)
    return best[chosen]


def _option(setup: Setup, screws: Trajectories, forces: ScrewForces) -> Option:
    friction = friction_range(setup.limits)
    found = press(screws, forces, setup.regions, friction)
    return Option(
        kind=screws.dims.kinds[screws.dims.kind[0]].kind,
        count=len(screws),
        holding=float(np.min(forces.holding.low)),
        squeeze=float(forces.squeeze.estimate.sum()),
        share=found.share,
        slip_low=found.reserve_low,
        unpressed=sum(len(surface.screws) == 0 for surface in found.surfaces),
    )
