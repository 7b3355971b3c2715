"""Blocks of a drill sheet in the order of use: lag screws, and plates in their own order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.implants import find_screw
from trajplan.show._drill.around import in_turn
from trajplan.show._drill.draft import not_reduced, placed
from trajplan.show._drill.entry import mark_entry, mark_plate
from trajplan.show._drill.plates import bend_step, plate_step, plate_warnings
from trajplan.show._drill.steps import per_screw
from trajplan.show._drill.warnings import warnings_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from trajplan.files import PlanFile, PlateRecord, ScrewRecord
    from trajplan.implants import Catalogue
    from trajplan.show._drill.draft import Draft

__all__ = ["Block", "blocks"]


@dataclass(frozen=True, slots=True)
class Block:
    """Steps of one screw, or a stretch of those of a plate."""

    name: str  # id of the screw or the plate
    heading: str
    warnings: tuple[str, ...]
    drafts: tuple[Draft, ...]  # none where it has no place, or fails a rule


def blocks(
    plan: PlanFile, catalogue: Catalogue, failed: dict[str, list[str]], ready: Collection[str]
) -> tuple[Block, ...]:
    """Put the steps of a plan in the order in which they are done.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    catalogue : Catalogue
        Where its screws are found.
    failed : dict of str to list of str
        Rules that each screw and plate fails.
    ready : collection of str
        Ids of the screws and plates that may be used as planned.

    Returns
    -------
    tuple of Block
        Without a plate the screws, one after the other. With plates, screws that no plate's
        order names come first.
    """
    lag = [s for s in plan.screws if s.technique == "lag" and s.id in ready]
    of_screw = {
        screw.id: Block(
            screw.id,
            _screw_heading(plan, screw, failed[screw.id]),
            warnings_of(screw.findings),
            (
                *mark_entry(plan, screw.id),
                *per_screw(
                    screw,
                    find_screw(catalogue, screw.kind),
                    several=len(lag) > 1,
                    in_plate=any(screw.id in plate.lag for plate in plan.plates),
                ),
            )
            if screw.id in ready
            else (),
        )
        for screw in plan.screws
    }
    named = {name for plate in plan.plates if plate.id in ready for step in plate.order
             for name in step.screws}  # fmt: skip
    made = [block for name, block in of_screw.items() if name not in named]
    for plate in plan.plates:
        made += _of_plate(plan, plate, of_screw, failed[plate.id], ready, lag)
    return tuple(made)


def _of_plate(
    plan: PlanFile,
    plate: PlateRecord,
    of_screw: dict[str, Block],
    failed: list[str],
    ready: Collection[str],
    lag: Sequence[ScrewRecord],
) -> Iterator[Block]:
    """Blocks of a plate, with the lag screws that its order names in their place."""
    heading = _plate_heading(plan, plate, failed)
    if plate.id not in ready:
        yield Block(plate.id, heading, plate_warnings(plate), ())
        return
    warnings = plate_warnings(plate)
    bends = any("bending sheet" in step.says for step in plate.order)
    drafts: list[Draft] = [] if bends and plate.work != "compress" else [bend_step(plate)]
    drafts += mark_plate(plan, plate)
    left = [screw.id for screw in lag]
    for step in plate.order:
        lags = [of_screw[name] for name in step.screws if name in of_screw]
        drafts += plate_step(plate, step, ready)
        if not lags:
            continue
        yield Block(plate.id, heading, warnings, tuple(drafts))
        heading, warnings, drafts = f"{plate.id}, continued", (), []
        yield from lags
        left = [name for name in left if name not in {block.name for block in lags}]
        if len(lag) > 1 and not left:
            drafts.append(in_turn(lag))
    yield Block(plate.id, heading, warnings, tuple(drafts))


def _plate_heading(plan: PlanFile, plate: PlateRecord, failed: list[str]) -> str:
    what = f"{plate.id}: {plate.kind}, {plate.holes} holes"
    if failed:
        return f"{what}, NOT TO BE PUT ON as planned, it fails {', '.join(failed)}: no steps"
    if not_reduced(plan):
        return f"{what}, NOT TO BE PUT ON before the reduction: no steps"
    words = {"compress": "to compress", "protect": "to protect the lag screws",
             "buttress": "to buttress"}  # fmt: skip
    return f"{what}, {words[plate.work]}"


def _screw_heading(plan: PlanFile, screw: ScrewRecord, failed: list[str]) -> str:
    if screw.entry is None:
        return f"{screw.id}: {screw.kind}, the axis misses the bone: no steps"
    if not placed(screw):
        return f"{screw.id}: {screw.kind}, no length was found: no steps"
    if failed:
        rules = ", ".join(failed)
        return f"{screw.id}: {screw.size}, NOT TO BE DRILLED as planned, it fails {rules}: no steps"
    if not_reduced(plan):
        return f"{screw.id}: {screw.size}, NOT TO BE DRILLED before the reduction: no steps"
    washer = f", washer {screw.washer}" if screw.washer else ""
    hold = f", {screw.hold}" if screw.hold else ""
    plate = next((p.id for p in plan.plates if screw.id in p.lag), None)
    through = "" if plate is None else f", through {plate}"
    return f"{screw.id}: {screw.size}, {screw.technique} screw{hold}{washer}{through}"
