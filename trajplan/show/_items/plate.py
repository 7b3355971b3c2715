"""A plate to size: its solid, its name, and what each hole does."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.show._items.item import line, solid_item
from trajplan.show._items.plate_solid import plate_of, plate_solid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.files import FindingRecord, PlanFile, PlateRecord, ScrewRecord
    from trajplan.show._items.item import Item
    from trajplan.show._items.plate_solid import BentPlate
    from trajplan.show._items.solids import Solid

__all__ = [
    "bent_items",
    "every_finding",
    "every_screw",
    "plate_items",
    "screw_title",
    "screws_in",
    "solid_of",
]

#: mm that the number of a hole stands over the plate's top, clear of the head in it.
OVER = 9.0
#: Uses that are written beside a hole, with its number; the name of a neutral screw tells its own.
SAID = ("eccentric", "lag", "empty")


def every_finding(plan: PlanFile) -> tuple[FindingRecord, ...]:
    """Findings of the plan, its screws, its wires and its plates.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of FindingRecord
        A finding that stands with the plan and with a screw comes once.
    """
    own = [f for screw in every_screw(plan) for f in screw.findings]
    own += [f for wire in plan.wires for f in wire.findings]
    own += [f for plate in plan.plates for f in plate.findings]
    return tuple({(f.rule, f.subject, f.why): f for f in (*plan.findings, *own)}.values())


def every_screw(plan: PlanFile) -> tuple[ScrewRecord, ...]:
    """Screws of a plan: its own, then those of its plates.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of ScrewRecord
    """
    return (*plan.screws, *(screw for plate in plan.plates for screw in plate.screws))


@lru_cache(maxsize=16)
def solid_of(record: PlateRecord) -> Solid:
    """Solid of a plate of a plan, made once.

    Parameters
    ----------
    record : PlateRecord
        The plate as planned.

    Returns
    -------
    Solid
        As from `plate_solid`; not to be written to.
    """
    vertices, faces = plate_solid(plate_of(record))
    freeze(vertices, faces)
    return vertices, faces


def screws_in(plan: PlanFile, plate: PlateRecord) -> dict[int, ScrewRecord]:
    """Screws in the holes of a plate, lag screws through it among them.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    plate : PlateRecord
        A plate of it.

    Returns
    -------
    dict of int to ScrewRecord
        By the number of the hole, from 1.
    """
    known = {screw.id: screw for screw in (*plan.screws, *plate.screws)}
    return {hole.number: known[hole.screw] for hole in plate.hole if hole.screw in known}


def screw_title(plan: PlanFile, screw: ScrewRecord) -> str:
    """What is written over a drawing of a plate's screw.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    screw : ScrewRecord
        One of its screws.

    Returns
    -------
    str
        Empty for a screw that lies in no plate.
    """
    return next(
        (
            f"{screw.id}: {screw.size}, {hole.use} screw in hole {hole.number} of {plate.id}"
            for plate in plan.plates
            for hole in plate.hole
            if hole.screw == screw.id
        ),
        "",
    )


def plate_items(record: PlateRecord) -> list[Item]:
    """Draw a plate of a plan.

    Parameters
    ----------
    record : PlateRecord
        The plate as planned.

    Returns
    -------
    list of Item
        As from `bent_items`.
    """
    label = f"{record.id}  {record.kind}, {record.holes} holes"
    uses = [hole.use for hole in record.hole]
    return bent_items(record.id, label, plate_of(record), uses, solid_of(record))


def bent_items(
    name: str, label: str, bent: BentPlate, uses: Sequence[str], solid: Solid
) -> list[Item]:
    """Draw a plate as it lies.

    Parameters
    ----------
    name, label : str
        Of the plate, and what is written beside it.
    bent : BentPlate
        The plate.
    uses : sequence of str, length h
        What each hole does.
    solid : Solid
        The plate's own.

    Returns
    -------
    list of Item
        The plate with its holes, its name, and what each hole does that is not neutral.
    """
    out, thick = bent.hole_frames[:, 2], bent.sizes.thickness
    top = bent.points[0] + thick * bent.frames[0, 2]
    ends = np.stack([top, top - 2.0 * thick * bent.frames[0, 2]])
    stands = np.stack([bent.centres + (thick + OVER) * out, bent.centres + thick * out], axis=1)
    numbers = [
        line(f"{name} hole {number}", "number", stand, f"{number} {use}")
        for number, (stand, use) in enumerate(zip(stands, uses, strict=True), start=1)
        if use in SAID
    ]
    return [
        solid_item(f"{name} body", "plate", solid),
        line(f"{name} label", "label", ends, label),
        *numbers,
    ]
