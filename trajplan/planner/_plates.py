"""A plate of a plan, settled: where it lies, what each hole holds, in which order it is fixed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner._plate_starts import one_of
from trajplan.planner._plate_steps import steps_of
from trajplan.planner._plating import first_of, side_names
from trajplan.plate import plate_travel

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.checks import Finding
    from trajplan.planner._plate_fit import Found
    from trajplan.planner._plate_forces import PlateForces
    from trajplan.planner._plate_options import PlateOption, PlateTally
    from trajplan.planner._plate_steps import PlateStep
    from trajplan.planner._plate_wish import PlateWish
    from trajplan.planner._plate_work import Proposal
    from trajplan.planner._plating import Plating
    from trajplan.planner._setup import Setup
    from trajplan.plate import FirstFragment, Laid, PlateScrews, Travel, Use

__all__ = ["PlannedPlate", "settle"]


@dataclass(frozen=True, slots=True, eq=False)
class PlannedPlate:
    """A plate of a plan."""

    id: str  # "plate 1"
    wish: PlateWish
    work: Proposal
    laid: Laid  # this one plate, as row 0
    uses: tuple[Use, ...]  # of each hole
    ids: tuple[str | None, ...]  # of the screw in each hole; None: empty
    lag: tuple[str, ...]  # ids of the plan's lag screws through it
    screws: PlateScrews  # its own, in the order of the holes
    names: tuple[str, str]  # of the fragments at its first end and at its last
    side: Ints  # (h,) -1: the hole lies over the first of them, 1: the second, 0: the fracture
    shaft: int  # side, -1 or 1, that the shaft lies on
    along: Floats  # (h,) mm along the plate to the fracture, signed
    offset: Floats  # (h,) mm along the plate that each hole is drilled aside
    empty_why: tuple[str, ...]  # of each hole; "" where it is filled
    first: FirstFragment
    travel: Travel | None  # None where nothing presses it along
    steps: tuple[PlateStep, ...]
    findings: tuple[Finding, ...] = ()  # on the plate as a whole
    screw_findings: tuple[tuple[Finding, ...], ...] = ()  # on each of its own screws
    worth: float = np.nan
    forces: PlateForces | None = None  # None: not worked out yet
    options: tuple[PlateOption, ...] = ()  # places weighed and not chosen
    tally: tuple[PlateTally, ...] = ()  # what each rule cost

    @property
    def own(self) -> tuple[str, ...]:
        """Ids of its own screws, in the order of `screws`."""
        return tuple(name for name in self.ids if name is not None and name not in self.lag)

    @property
    def apex(self) -> tuple[float, float, float] | None:
        """Where the fracture comes nearest to a hole of the shaft's side, to buttress, mm."""
        if self.work.work != "buttress":
            return None
        shaft = np.flatnonzero(self.side == self.shaft)
        if not len(shaft):
            return None
        hole = int(shaft[np.abs(self.along[shaft]).argmin()])
        frame = self.laid.shape.frames[0, self.laid.strip.hole[hole]]
        x, y, z = (self.laid.centres[0, hole] + self.along[hole] * frame[0]).tolist()
        return x, y, z

    @property
    def held_by(self) -> tuple[int, ...]:
        """Holes that tell where it lies, from 0: its two end holes, and the one filled first."""
        first = [hole for step in self.steps for hole in step.holes][:1]
        return tuple(sorted({0, self.laid.holes - 1, *first}))

    @property
    def all_findings(self) -> tuple[Finding, ...]:
        """Findings on it and on its screws."""
        return (*self.findings, *(one for each in self.screw_findings for one in each))


def settle(
    setup: Setup, plating: Plating, number: int, found: Found, names: dict[int, str]
) -> PlannedPlate:
    """Settle a plate where it was found best.

    Parameters
    ----------
    setup : Setup
        The case.
    plating : Plating
        Its plates.
    number : int
        The plate, from 0.
    found : Found
        The place.
    names : dict of int to str
        Ids of the plan's lag screws, by their rows.

    Returns
    -------
    PlannedPlate
        Not judged yet.
    """
    wish, work, bed = plating.wishes[number], plating.works[number], plating.beds[number]
    places, row = found.places, found.row
    laid = one_of(places.laid, row)
    uses, along = found.uses, places.along[row]
    shaft = int(places.shaft[row])
    offset = np.zeros(laid.holes)
    offset[found.choice >= 0] = places.offset[found.options]
    through = {h: names[r] for h, r in found.lag.items()}
    ids = tuple(
        through.get(h, f"{wish.id} hole {h + 1}" if found.choice[h] >= 0 else None)
        for h in range(laid.holes)
    )
    sides = side_names(setup, bed, laid, 0)
    first = first_of(setup, bed, laid, 0)
    travel = plate_travel(wish.plate, uses.count("eccentric")) if "eccentric" in uses else None
    return PlannedPlate(
        id=wish.id,
        wish=wish,
        work=work,
        laid=laid,
        uses=uses,
        ids=ids,
        lag=tuple(through.values()),
        screws=places.screws.take(found.options),
        names=sides,
        side=places.side[row],
        shaft=shaft,
        along=along,
        offset=offset,
        empty_why=_why_empty(found, ids),
        first=first,
        travel=travel,
        steps=steps_of(
            work.work,
            uses,
            ids,
            places.side[row],
            shaft,
            along,
            first,
            sides,
            [n for n in names.values() if n not in through.values()],
        ),
        worth=found.worth,
    )


#: Why a hole stays empty, by the rule that its screw would fail.
EMPTY = {
    "crosses_fracture": "a screw in it would cross the fracture and hold it open",
    "avoid_clearance": "a screw in it would come too near to what is to be avoided",
    "joint_clearance": "a screw in it would come too near to a joint",
    "plunge": "the drill behind it would reach what is to be avoided",
    "approach": "it cannot be drilled from the open side",
    "": "a screw in it would meet another screw",
}


def _why_empty(found: Found, ids: tuple[str | None, ...]) -> tuple[str, ...]:
    places, row = found.places, found.row
    h = places.shape[1]
    said = []
    for hole, name in enumerate(ids):
        if name is not None:
            said.append("")
        elif places.side[row, hole] == 0:
            said.append("it lies over the fracture")
        elif hole in found.spare:
            said.append("the screws of its side are enough")
        else:
            rule = places.why[row * h + hole]
            said.append(EMPTY.get(rule, f"a screw in it would fail the rule {rule}"))
    return tuple(said)
