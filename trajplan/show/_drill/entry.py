"""Where a screw or a wire is started, told from what hands can find."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._drill.draft import Draft
from trajplan.show._words.places import place_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.files import PlanFile, PlateRecord

__all__ = ["mark_entry", "mark_plate"]


def mark_entry(plan: PlanFile, name: str) -> Iterator[Draft]:
    """Say where an entry is marked on the reduced bone.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    name : str
        Id of a screw or wire.

    Yields
    ------
    Draft
        None where the plan does not tell the place.
    """
    for place in plan.places:
        if place.id == name:
            text = place_text(place, plan.bearings)
            yield Draft("Mark the entry", f"{text[0].upper()}{text[1:]} Check it on imaging.")


def mark_plate(plan: PlanFile, plate: PlateRecord) -> Iterator[Draft]:
    """Say where a plate lies: where its end holes and the hole that is filled first are marked.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    plate : PlateRecord
        One of its plates.

    Yields
    ------
    Draft
        None where the plan does not tell the place.
    """
    said = [
        f"{place.id.removeprefix(plate.id).strip().capitalize()}: "
        f"{place_text(place, plan.bearings)}"
        for place in plan.places
        if place.id.startswith(f"{plate.id} hole ")
    ]
    if said:
        yield Draft("Mark the plate", f"{' '.join(said)} Check it on imaging.")
