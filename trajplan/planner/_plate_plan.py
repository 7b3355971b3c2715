"""From the places of plates to the plates of a plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trajplan.checks import Finding, Verdict
from trajplan.planner._needs import straight_across
from trajplan.planner._plate_findings import judged_plate
from trajplan.planner._plate_forces import plate_forces
from trajplan.planner._plate_options import place_options, place_tally
from trajplan.planner._plates import settle

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.checks import Ruling
    from trajplan.planner._plates import PlannedPlate
    from trajplan.planner._plating import Plating
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["Pick", "lags_missing", "plate_notes", "plates_of", "plates_press"]


@dataclass(frozen=True, slots=True, eq=False)
class Pick:
    """Lag screws to choose from, and the choice among them."""

    screws: Trajectories
    chosen: Ints  # (k,) rows
    score: Floats  # (m,)
    table: Floats  # (m, m) what each pair adds
    rulings: list[Ruling]
    plating: Plating | None  # None where the case asks for no plate


def plates_of(
    setup: Setup, pick: Pick, ids: tuple[str, ...], screws: Trajectories
) -> tuple[PlannedPlate, ...]:
    """Settle and judge the plates of a plan.

    Parameters
    ----------
    setup : Setup
        The case.
    pick : Pick
        What was chosen.
    ids : tuple of str
        Names of the lag screws.
    screws : Trajectories
        The lag screws.

    Returns
    -------
    tuple of PlannedPlate
        None for a plate that finds no place at all.
    """
    plating = pick.plating
    if plating is None:
        return ()
    rows = pick.chosen.tolist()
    names = dict(zip(rows, ids, strict=True))
    plates = []
    for number, (best, every) in enumerate(plating.best(rows)):
        if best is None:
            continue
        plate = settle(setup, plating, number, best, names)
        plate = replace(
            plate,
            forces=plate_forces(setup, plate),
            options=place_options(best, every, plate.work.work),
            tally=place_tally(every),
        )
        plates.append(judged_plate(setup, plate, screws, ids))
    return tuple(plates)


def lags_missing(setup: Setup, pick: Pick) -> int:
    """Lag screws that the case asks for and nothing does without.

    Parameters
    ----------
    setup : Setup
        The case.
    pick : Pick
        What was chosen.

    Returns
    -------
    int
        0 where a plate presses a fracture straight across: it needs none.
    """
    if plates_press(pick) and straight_across(setup) is not None:
        return 0
    return max(setup.case.screws.count - len(pick.chosen), 0)


def plates_press(pick: Pick) -> bool:
    """Whether a plate presses the fracture by eccentric screws.

    Parameters
    ----------
    pick : Pick
        What was chosen.

    Returns
    -------
    bool
    """
    return pick.plating is not None and any(w.work == "compress" for w in pick.plating.works)


def plate_notes(pick: Pick) -> tuple[Finding, ...]:
    """Say of which plates none could be laid.

    Parameters
    ----------
    pick : Pick
        What was chosen.

    Returns
    -------
    tuple of Finding
    """
    plating = pick.plating
    if plating is None:
        return ()
    found = plating.best(pick.chosen.tolist())
    return tuple(
        _nowhere(wish.id, wish.plate.kind)
        for wish, (place, _) in zip(plating.wishes, found, strict=True)
        if place is None
    )


def _nowhere(name: str, kind: str) -> Finding:
    return Finding(
        rule="plate_place",
        subject=name,
        verdict=Verdict.FAIL,
        measured=None,
        limit=None,
        unit="",
        why=f"{kind} finds no place beside the lag screws and the plates before it: name another "
        "side, another number of holes or another plate.",
        source="the case",
    )
