"""Plates and lag screws chosen together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import joined
from trajplan.checks import screw_rulings
from trajplan.errors import CaseError
from trajplan.fracture import nearest_zone
from trajplan.planner._assess import failing
from trajplan.planner._plate_fit import beside, best_found, found_in
from trajplan.planner._plate_places import bed_for, places_of
from trajplan.planner._plate_wish import plate_wishes
from trajplan.planner._plate_work import Proposal, propose_work
from trajplan.plate import check_screw, first_fragment, head_balls, lag_through
from trajplan.trajectory import Axes, Joint, dimensions, plan_trajectories, techniques

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.implants import Screw
    from trajplan.planner._plate_fit import Beside, Found
    from trajplan.planner._plate_places import Places
    from trajplan.planner._plate_wish import PlateWish
    from trajplan.planner._setup import Setup
    from trajplan.plate import Bed, FirstFragment, Laid
    from trajplan.trajectory import Trajectories

__all__ = ["Plating", "Through", "first_of", "plating_of", "seated", "side_names"]

#: Lag screws through a plate that are looked at, the best of each number of holes.
THROUGH_MOST = 40


@dataclass(frozen=True, slots=True, eq=False)
class Through:
    """Lag screws through holes of plates as they could lie."""

    screws: Trajectories
    plate: Ints  # (t,) number of the plate
    places: Ints  # (t,) row of its `Places`
    row: Ints  # (t,) place
    hole: Ints  # (t,)

    def __len__(self) -> int:
        return len(self.row)


@dataclass(frozen=True, slots=True, eq=False)
class Plating:
    """Every place of every plate of a case, and how each gets on with lag screws."""

    setup: Setup
    wishes: tuple[PlateWish, ...]
    works: tuple[Proposal, ...]
    beds: tuple[Bed, ...]
    places: tuple[tuple[Places, ...], ...]  # of each plate, one for each number of holes
    first_low: tuple[tuple[Bools, ...], ...]  # likewise, (m,)
    through: Through | None
    near: tuple[tuple[Beside, ...], ...] = ()  # likewise, of all lag screws looked at
    ordinary: int = 0  # lag screws beside plates; those through plates come after them
    at: Mapping[int, tuple[int, int, int, int]] = field(default_factory=dict)
    # plate, number of holes, place and hole of every lag screw that runs through a plate

    def with_lags(self, lag: Trajectories) -> tuple[Trajectories, Plating]:
        """Measure all places against lag screws.

        Parameters
        ----------
        lag : Trajectories
            Lag screws beside plates.

        Returns
        -------
        lag : Trajectories
            The same, and after them those of `through`.
        plating : Plating
            With `near`.
        """
        every = lag if self.through is None else joined(lag, self.through.screws)
        keep = self.setup.limits.screw_gap
        near = tuple(tuple(beside(p, every, keep) for p in group) for group in self.places)
        it, at = self.through, dict(self.at)
        if it is not None:
            where = zip(it.plate, it.places, it.row, it.hole, strict=True)
            at |= {len(lag) + k: (int(p), int(n), int(r), int(h))
                   for k, (p, n, r, h) in enumerate(where)}  # fmt: skip
        return every, replace(self, near=near, ordinary=len(lag), at=at)

    def found(self, number: int, rows: Sequence[int]) -> list[Found]:
        """Every place of a plate beside a set of lag screws.

        Parameters
        ----------
        number : int
            The plate, from 0.
        rows : sequence of int
            The lag screws.

        Returns
        -------
        list of Found
        """
        found: list[Found] = []
        inner = self._through(rows)
        mine = {k: at for k, at in inner.items() if at[0] == number}
        for index, places in enumerate(self.places[number]):
            if any(at[1] != index for at in mine.values()):
                continue
            found += found_in(
                self.setup,
                self.wishes[number],
                self.works[number].work,
                places,
                self.near[number][index],
                rows,
                {k: (at[2], at[3]) for k, at in mine.items()},
                self.first_low[number][index],
            )
        return found

    def _through(self, rows: Sequence[int]) -> dict[int, tuple[int, int, int, int]]:
        """Plate, number of holes, place and hole of those of some lag screws that run through."""
        return {row: self.at[row] for row in rows if row in self.at}

    def best(self, rows: Sequence[int]) -> tuple[tuple[Found | None, list[Found]], ...]:
        """The best place of every plate beside a set of lag screws, and all its places.

        Parameters
        ----------
        rows : sequence of int
            The lag screws.

        Returns
        -------
        tuple of (Found or None, list of Found)
            None where a plate finds none beside the plates before it.
        """
        taken: list[Found] = []
        answer: list[tuple[Found | None, list[Found]]] = []
        for number in range(len(self.wishes)):
            every = [
                one for one in self.found(number, rows) if not any(_meet(one, t) for t in taken)
            ]
            best = best_found(every)
            taken += [] if best is None else [best]
            answer.append((best, every))
        return tuple(answer)


def _meet(one: Found, other: Found) -> bool:
    """Whether two plates would lie in one place."""
    a, b = (f.places.laid.shape.points[f.row] for f in (one, other))
    wide = (one.places.laid.plate.width + other.places.laid.plate.width) / 2.0
    near = np.linalg.norm(a[:, None] - b, axis=2).min()
    return bool(near < wide)


def plating_of(setup: Setup, *, through: bool = True) -> Plating | None:
    """Lay the plates of a case wherever they could lie.

    Parameters
    ----------
    setup : Setup
        The case.
    through : bool
        Whether lag screws through the plates are looked for.

    Returns
    -------
    Plating or None
        None where the case asks for no plate.

    Raises
    ------
    InputError
        If a plate of the case cannot be meant.
    """
    wishes = plate_wishes(setup)
    if not wishes:
        return None
    works = tuple(_work(setup, wish) for wish in wishes)
    beds = tuple(bed_for(setup, wish) for wish in wishes)
    places = tuple(
        places_of(setup, wish, work.work, bed)
        for wish, work, bed in zip(wishes, works, beds, strict=True)
    )
    first = tuple(
        tuple(np.array([_low_first(setup, bed, p.laid, r) for r in range(len(p.laid))])
              for p in group)
        for bed, group in zip(beds, places, strict=True)
    )  # fmt: skip
    lags = _lags_through(setup, wishes, places) if through else None
    return Plating(setup, wishes, works, beds, places, first, lags)


def _work(setup: Setup, wish: PlateWish) -> Proposal:
    if wish.work is not None:
        return Proposal(wish.work, "The case asks for it.", proposed=False)
    return propose_work(setup, presses=wish.plate.hole.shift is not None)


def side_names(setup: Setup, bed: Bed, laid: Laid, row: int) -> tuple[str, str]:
    """Names of the fragments at a plate's first end and at its last.

    Parameters
    ----------
    setup : Setup
        The case.
    bed : Bed
        The bone's surface.
    laid : Laid
        Plates.
    row : int
        The plate.

    Returns
    -------
    tuple of two str
        Where the bone is one mesh, by the plate's holes.
    """
    shells = setup.bone.shells
    ends = laid.centres[row, [0, -1]]
    _, face, _ = bed.distance.tree.nearest(ends)
    one, other = shells.body[shells.of_face[bed.rows[face]]]
    if one != other:
        names = setup.fragment_names
        return names[int(one)], names[int(other)]
    return "the fragment under hole 1", f"the fragment under hole {laid.holes}"


def first_of(setup: Setup, bed: Bed, laid: Laid, row: int) -> FirstFragment:
    """Which fragment a plate is fixed to first, by the lean of the largest zone.

    Parameters
    ----------
    setup, bed, laid, row
        As for `side_names`.

    Returns
    -------
    FirstFragment
    """
    zone = max(setup.around.zones, key=lambda z: z.area)
    normal = np.asarray(zone.plane.normal)
    frame = laid.shape.frames[row, laid.strip.middle]
    normal = normal if normal @ frame[0] >= 0.0 else -normal  # out of the fragment at hole 1
    return first_fragment(normal, frame[2], side_names(setup, bed, laid, row))


def _low_first(setup: Setup, bed: Bed, laid: Laid, row: int) -> bool:
    """Whether the fragment at the plate's first end comes first; so it does where either may."""
    found = first_of(setup, bed, laid, row)
    return found.name is None or found.name == side_names(setup, bed, laid, row)[0]


def _lags_through(
    setup: Setup, wishes: Sequence[PlateWish], places: Sequence[Sequence[Places]]
) -> Through | None:
    """Lag screws through holes of plates that fail no rule."""
    if setup.case.screws.count == 0 or setup.case.screws.technique != "lag":
        return None
    found = [
        one
        for number, (wish, group) in enumerate(zip(wishes, places, strict=True))
        for index, part in enumerate(group)
        if (one := _lags_in(setup, wish, part, number, index)) is not None
    ]
    if not found:
        return None
    first = found[0]
    for other in found[1:]:
        first = joined(first, other)
    return first


def _lags_in(
    setup: Setup, wish: PlateWish, places: Places, number: int, index: int
) -> Through | None:
    kinds = [k for k, screw in enumerate(setup.kinds) if _fits(wish, screw)]
    if not kinds:
        return None
    laid, zones = places.laid, setup.around.zones
    m, h, _ = places.shape
    row, hole = (a.ravel() for a in np.indices((m, h)))
    near = np.abs(places.along[row, hole]) <= REACH
    row, hole = row[near], hole[near]
    if not len(row):
        return None
    zone = max(range(len(zones)), key=lambda z: zones[z].area)
    lag = lag_through(laid, row, hole, zones[zone].plane.normal)
    told = np.isfinite(lag.off) & (lag.off <= setup.limits.max_tilt)
    row, hole, direction = row[told], hole[told], lag.direction[told]
    if not len(row):
        return None
    kind = np.repeat(kinds, len(row))
    row, hole = np.tile(row, len(kinds)), np.tile(hole, len(kinds))
    direction = np.tile(direction, (len(kinds), 1))
    technique = techniques("lag", dimensions(setup.kinds, kind))
    screws = seated(setup, laid, row, hole, kind, direction, np.zeros(len(row)), technique)
    rulings = screw_rulings(screws, setup.limits, setup.around, measure=False)
    good = np.flatnonzero(~failing(rulings, len(row)) & screws.crossing.inside)
    if not len(good):
        return None
    good = good[np.argsort(screws.crossing.tilt[good], kind="stable")][:THROUGH_MOST]
    return Through(
        screws.take(good),
        np.full(len(good), number),
        np.full(len(good), index),
        row[good],
        hole[good],
    )


def seated(
    setup: Setup,
    laid: Laid,
    row: Ints,
    hole: Ints,
    kind: Ints,
    direction: Vec3s,
    aside: Floats,
    technique: Ints,
) -> Trajectories:
    """Work out lag or position screws whose heads sit in the holes of plates.

    Parameters
    ----------
    setup : Setup
        The case.
    laid : Laid
        Plates.
    row, hole, kind, technique : (n,) int arrays
        Plate and hole of each screw, its row of ``setup.kinds``, and its technique.
    direction : (n, 3) float array
        From head to tip.
    aside : (n,) float array, mm
        Along the plate from the middle of the hole.

    Returns
    -------
    Trajectories
    """
    dims = dimensions(setup.kinds, kind)
    ball = head_balls(laid, row, dims, hole, aside)
    axes, zones = Axes.along(ball, direction), setup.around.zones
    return plan_trajectories(
        setup.bone,
        axes,
        dims,
        zones,
        zone=nearest_zone(setup.bone, zones, axes.origin, axes.direction),
        technique=technique,
        bicortical=~dims.deep,
        settings=setup.settings,
        joints=[
            Joint(o.distance, o.clearance) for o in setup.around.obstacles if o.role == "joint"
        ],
        ball=ball,
    )


#: mm along the plate from a hole to the fracture past which no lag screw through it is tried.
REACH = 60.0


def _fits(wish: PlateWish, screw: Screw) -> bool:
    try:
        check_screw(wish.plate, screw)
    except CaseError:
        return False
    return True
