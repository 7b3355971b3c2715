"""What another number or kind of screw would give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner._choose import best_set
from trajplan.planner._strength import friction_range, press, screw_forces

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["Option", "options"]

#: Largest number of screws that is looked at.
MOST = 3


@dataclass(frozen=True, slots=True)
class Option:
    """The best plan of so many screws of one kind; NaN is unknown."""

    kind: str
    count: int
    holding: float  # N, low end of the weakest screw
    force: float  # N, squeeze of all of them
    share: float  # of the fracture in contact
    slip_low: float  # friction over shear, least friction


def options(setup: Setup, score: Floats, pair: Floats, screws: Trajectories) -> tuple[Option, ...]:
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

    Returns
    -------
    tuple of Option
        Those that exist.
    """
    found = []
    for number in range(len(setup.kinds)):
        rows = np.flatnonzero(screws.dims.kind == number)
        for count in range(1, MOST + 1):
            chosen, _ = best_set(score[rows], pair[np.ix_(rows, rows)], count)
            if len(chosen):
                found.append(_option(setup, setup.kinds[number].kind, screws.take(rows[chosen])))
    return tuple(found)


def _option(setup: Setup, kind: str, screws: Trajectories) -> Option:
    forces = screw_forces(screws, setup.around, setup.bone_class)
    friction = friction_range(setup.limits.friction)
    found = press(screws, forces, setup.regions, friction)
    return Option(
        kind=kind,
        count=len(screws),
        holding=float(np.min(forces.holding.low)),
        force=found.force,
        share=found.share,
        slip_low=found.reserve_low,
    )
