"""What a fracture needs beside its screws: a plate, a buttress, a tension band."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Verdict, end_alone, pulled_apart, screws_alone, transverse
from trajplan.fracture import fracture_length, obliquity
from trajplan.implants import find_plate
from trajplan.trajectory import Technique

if TYPE_CHECKING:
    from trajplan.arrays import Ints
    from trajplan.checks import Finding
    from trajplan.fracture import FractureLength, Zone
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["by_fracture", "needs", "plate_presses", "straight_across"]

#: Classes of bone that are soft, whatever is broken: screws alone cut out of them.
POOR = ("poor", "cancellous light")


def needs(setup: Setup, screws: Trajectories) -> tuple[Finding, ...]:
    """Say what lag screws alone cannot do for the fracture of a case.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        The screws of the plan, none among them.

    Returns
    -------
    tuple of Finding
        On the plan as a whole; of several fractures the one that weighs most.
    """
    said = setup.protection
    pull = pulled_apart(pulled=setup.case.fracture.pulled_apart, protection=said)
    lag = screws.technique != Technique.POSITION
    wanted = lag.any() if len(lag) else setup.case.screws.technique == "lag"
    across = straight_across(setup) if wanted else None
    if across is not None and setup.case.plates:
        across = (
            replace(across, verdict=Verdict.NOTE, why=f"{across.why} {_PLATED}")
            if plate_presses(setup)
            else replace(across, why=f"{across.why} {_ONLY_HOLDS}")
        )
    return (
        *((across,) if across is not None else ()),
        *((pull,) if pull is not None else ()),
        *_alone(setup, screws),
    )


_PLATED = "This plan has a plate for it."
_ONLY_HOLDS = (
    "The plate of this plan does not press it: have it compress (plate.work), or name one whose "
    "eccentric screws do."
)


def plate_presses(setup: Setup) -> bool:
    """Whether a plate of the case presses a transverse fracture by eccentric screws.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    bool
    """
    return any(
        plate.work == "compress"
        or (plate.work is None and find_plate(setup.catalogue, plate.kind).hole.shift is not None)
        for plate in setup.case.plates
    )


def straight_across(setup: Setup) -> Finding | None:
    """Say whether a shaft is broken straight across, where no lag screw can press it.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    Finding or None
        None for any other fracture, and for one that the case calls one of a bone end.
    """
    if setup.case.bone.place == "end":
        return None
    found = []
    for zones in _fractures(setup):
        angle = max(obliquity(zone, setup.shaft) for zone in zones)
        sure = _place(setup, fracture_length(zones, setup.shaft)) == "shaft"
        pair = zones[0].fragments
        names = setup.fragment_names
        both = "" if pair is None else f" between {names[pair[0]]} and {names[pair[1]]}"
        found.append(transverse(angle, setup.limits, sure=sure, which=both))
    return max((f for f in found if f is not None), key=lambda f: f.verdict, default=None)


def _place(setup: Setup, found: FractureLength) -> str | None:
    """What is broken: as the case says, else a shaft if far from both ends of a long bone."""
    if setup.case.bone.place is not None:
        return setup.case.bone.place
    return "shaft" if setup.shaft.away_from_ends(found.middle) else None


def _alone(setup: Setup, screws: Trajectories) -> tuple[Finding, ...]:
    """Whether the lag screws of a plan will do without a plate."""
    lag = screws.crossing.inside & (screws.technique != Technique.POSITION)
    if not lag.any():
        return ()
    poor = setup.bone_class.name in POOR
    said = setup.protection
    answers = []
    for zones, rows in by_fracture(setup, screws):
        count = int(lag[rows].sum())
        found = fracture_length(zones, setup.shaft)
        place = _place(setup, found)
        if place == "end":
            answers.append(end_alone(count, poor=poor, protection=said))
            continue
        told = found.length if place == "shaft" else np.nan
        answers.append(
            screws_alone(told, found.diameter, count, setup.limits, poor=poor, protection=said)
        )
    return (max(answers, key=lambda answer: answer.verdict),)


def _fractures(setup: Setup) -> list[list[Zone]]:
    """Zones of each fracture between two fragments."""
    zones = setup.around.zones
    pairs = dict.fromkeys(zone.fragments for zone in zones)
    return [[zone for zone in zones if zone.fragments == pair] for pair in pairs]


def by_fracture(setup: Setup, screws: Trajectories) -> list[tuple[list[Zone], Ints]]:
    """Zones of each fracture between two fragments, and the screws meant for it.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    list of (zones, rows)
        One for each fracture.
    """
    pairs = [setup.around.zones[int(row)].fragments for row in screws.crossing.zone]
    return [
        (zones, np.flatnonzero([pair == zones[0].fragments for pair in pairs]))
        for zones in _fractures(setup)
    ]
