"""Axes that somebody else drew through the holes of a plate: seated in it, and told so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import joined
from trajplan.checks import Finding, Verdict, hole_cone
from trajplan.errors import CaseError
from trajplan.planner._plate_places import plate_rulings, run_screws
from trajplan.planner._plating import seated
from trajplan.plate import check_screw, cone_share, head_balls, tilts
from trajplan.trajectory import dimensions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.planner._plate_places import Places
    from trajplan.planner._plate_wish import PlateWish
    from trajplan.planner._plating import Plating
    from trajplan.planner._setup import Setup
    from trajplan.plate import Laid
    from trajplan.trajectory import Trajectories

__all__ = ["InHoles", "in_holes"]

#: mm that a line may pass the middle of a head in its hole: more, and the head rides on the rim
#: (assumption).
BESIDE_MIDDLE = 1.0
#: Degrees off a hole's axis past which a line is none through the hole, however it crosses it.
ASKEW = 60.0

#: Degrees about its own line that a plate could be rolled otherwise: a line of points does not tell
#: that, and on a round bone nearby places fit as well (2 to 5 degrees on a tube: measured).
ROLL_UNTOLD = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class InHoles:
    """Axes of a table, those through holes of plates seated there."""

    screws: Trajectories  # all rows, in their order
    at: dict[int, tuple[int, int, int, int]]  # row -> plate, number of holes, place and hole
    beside: tuple[int, ...]  # rows that are no screw of a plate
    findings: tuple[Finding, ...]


def in_holes(setup: Setup, plating: Plating, screws: Trajectories, ids: Sequence[str]) -> InHoles:
    """Seat axes in the holes of the plates whose place the case gives.

    Parameters
    ----------
    setup : Setup
        The case, its kinds those of the axes.
    plating : Plating
        Its plates.
    screws : Trajectories
        The axes, as if no plate were there.
    ids : sequence of str
        Their names.

    Returns
    -------
    InHoles
        An axis that crosses the fracture presses or holds it through the plate. One that does
        not is a screw of the plate: it is judged as drawn, in its hole, by findings of its own.
    """
    at: dict[int, tuple[int, int, int, int]] = {}
    own: set[int] = set()
    findings: list[Finding] = []
    for number, (wish, group) in enumerate(zip(plating.wishes, plating.places, strict=True)):
        if not wish.placed:
            continue
        for row in range(len(screws)):
            found = _hole_of(setup, group[0], screws, row)
            if found is None or row in at:
                continue
            hole, aside = found
            name = f"{wish.id}, hole {hole + 1}"
            one = seated(
                setup, group[0].laid, np.zeros(1, dtype=np.int64), np.array([hole]),
                screws.dims.kind[[row]], screws.corridors.axes.direction[[row]],
                np.array([aside]), screws.technique[[row]],
            )  # fmt: skip
            crosses = bool(one.crossing.inside[0])
            findings.append(_told(ids[row], name, one, crosses=crosses))
            findings.append(_in_cone(ids[row], group[0].laid, hole, one))
            if not crosses:
                own.add(row)
                line = screws.take(np.array([row]))
                findings += _as_drawn(setup, wish, group[0].laid, line, hole, aside, ids[row])
                continue
            at[row] = (number, 0, 0, hole)
            order = np.arange(len(screws))
            order[row] = len(screws)
            screws = joined(screws, one).take(order)
    beside = tuple(row for row in range(len(screws)) if row not in own)
    return InHoles(screws, at, beside, tuple(findings))


def _as_drawn(
    setup: Setup,
    wish: PlateWish,
    laid: Laid,
    line: Trajectories,
    hole: int,
    aside: float,
    name: str,
) -> list[Finding]:
    """What rules on a screw of a plate have against a drawn line in its hole."""
    screw = setup.kinds[int(line.dims.kind[0])]
    found = run_screws(
        setup, laid, 0, [screw], np.array([hole]), line.corridors.axes.direction, np.array([aside])
    )
    every = [f for r in plate_rulings(setup, wish, found, measure=True) for f in r.findings([name])]
    return [finding for finding in every if finding.verdict is not Verdict.PASS]


def _in_cone(name: str, laid: Laid, hole: int, one: Trajectories) -> Finding:
    """Whether a drawn line lies in the cone of its hole, as far as the plate's line tells that."""
    way = one.corridors.axes.direction
    along, across = tilts(laid, 0, np.array([hole]), way)
    least = np.maximum(np.abs(across) - ROLL_UNTOLD, 0.0)
    share, could = (cone_share(laid.plate.hole, along, side)[0] for side in (across, least))
    return hole_cone(name, float(share), float(could))


def _hole_of(
    setup: Setup, places: Places, screws: Trajectories, row: int
) -> tuple[int, float] | None:
    """The hole that an axis runs through, and mm along the plate off its middle."""
    laid, kind = places.laid, screws.dims.kind[row]
    try:
        check_screw(laid.plate, setup.kinds[int(kind)])
    except CaseError:
        return None
    hole = np.arange(laid.holes)
    dims = dimensions(setup.kinds, np.full(laid.holes, kind))
    ball = head_balls(laid, 0, dims, hole, np.zeros(laid.holes))
    axis = screws.corridors.axes
    start, way = axis.origin[row], axis.direction[row]
    off = start - ball
    off = off - (off @ way)[:, None] * way  # from the middle of each head to the line
    frame = laid.shape.frames[0, laid.strip.hole]
    along, across, _ = np.moveaxis(np.einsum("hij,hj->hi", frame, off), -1, 0)
    best = int(np.linalg.norm(off, axis=1).argmin())
    room = laid.plate.hole.shift or 0.0
    if np.linalg.norm([max(abs(along[best]) - room, 0.0), across[best]]) > BESIDE_MIDDLE:
        return None
    if way @ laid.into_bone[0, best] < np.cos(np.radians(ASKEW)):
        return None
    return best, float(np.clip(along[best], -room, room))


def _told(name: str, hole: str, one: Trajectories, *, crosses: bool) -> Finding:
    """Say which line of a table runs through a hole of a plate, and what it is then."""
    length = float(one.length[0])
    long = np.isfinite(length)
    said = f"{name} runs through {hole}"
    size = f" Seated in the plate it is {length:g} mm long." if long else ""
    if crosses:
        why = f"{said}: its head is taken to sit there, and its length counts from there.{size}"
    else:
        why = (
            f"{said}, and does not cross the fracture: it is a screw of the plate, judged in that "
            f"hole and not as a lag screw.{size} The plate has a screw of its own planned there, "
            "or leaves the hole empty: decide which is right, and leave the other out."
        )
    return Finding(
        rule="in_plate_hole",
        subject=name,
        verdict=Verdict.NOTE if crosses else Verdict.CAUTION,
        measured=length if long else None,
        limit=None,
        unit="mm",
        why=why,
        source="geometry",
    )
