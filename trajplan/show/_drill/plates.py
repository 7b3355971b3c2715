"""Steps of a plate: bent, laid on, and each hole filled in its turn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.files import TOLD
from trajplan.show._drill.draft import Draft, filled, joined, literal
from trajplan.show._words.numbers import drilled_aside

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from trajplan.files import (
        FindingRecord,
        PlateHoleRecord,
        PlateRecord,
        PlateStepRecord,
        ScrewRecord,
    )

__all__ = ["bend_step", "plate_step", "plate_warnings"]

#: Degrees of tilt in its hole below which a screw stands square for a hand.
SQUARE = 1.0


def bend_step(plate: PlateRecord) -> Draft:
    """Bend a plate before it is laid on.

    Parameters
    ----------
    plate : PlateRecord
        The plate as planned.

    Returns
    -------
    Draft
        With the overbend of a plate that compresses: the form first, then a further bend over
        the fracture (Wheeless' Textbook of Orthopaedics, prebending of plates).
    """
    text = f"Bend {plate.id} to the bone by its bending sheet, and compare it with its page."
    if plate.work != "compress":
        return Draft("Bend", text)
    wanted = plate.overbend
    if wanted is None or wanted.estimate is None:
        why = f" {plate.overbend_why}" if plate.overbend_why else ""
        return Draft("Bend", f"{text} UNKNOWN: how much it is to be overbent cannot be told.{why}")
    band = (
        ""
        if wanted.low is None or wanted.high is None
        else f", {wanted.low:.1f} to {wanted.high:.1f} mm will do"
    )
    return Draft(
        "Bend",
        f"{text} Overbend it last, over the fracture, until its middle stands "
        f"{wanted.estimate:.1f} mm off the bone when it rests on its ends{band}.",
    )


def plate_step(
    plate: PlateRecord, step: PlateStepRecord, ready: Collection[str]
) -> Iterator[Draft]:
    """One step of the order in which a plate is fixed, with the numbers of its screws.

    Parameters
    ----------
    plate : PlateRecord
        The plate as planned.
    step : PlateStepRecord
        The step.
    ready : collection of str
        Ids of the screws that may be drilled as planned.

    Yields
    ------
    Draft
    """
    own = {screw.id: screw for screw in plate.screws}
    mine = [(plate.hole[number - 1], own.get(plate.hole[number - 1].screw or ""))
            for number in step.holes]  # fmt: skip
    screws = [(hole, screw) for hole, screw in mine if screw is not None]
    if not screws:
        yield Draft("Fix the plate", step.says)
        return
    for hole, screw in screws:
        action = f"Hole {hole.number}"
        if screw.id not in ready:
            yield Draft(action, f"{screw.id}: NOT TO BE DRILLED as planned, it fails a rule.")
            continue
        says = step.says.removeprefix(f"{action}: ")
        says = f"{says[0].upper()}{says[1:]} "
        yield joined(Draft(action, says), _numbers(plate, hole, screw))


def _numbers(plate: PlateRecord, hole: PlateHoleRecord, screw: ScrewRecord) -> Draft:
    """Drill, gauge, tap and screw of a hole, from the screw's own record."""
    drill = (
        "take the drill from the maker's instructions (UNKNOWN in the catalogue), through both "
        "walls"
        if screw.thread_hole is None
        else "{thread_hole.diameter} mm drill through both walls; it leaves the far one "
        "{thread_hole.end} mm from the bone's surface"
    )
    tap = "" if screw.tap is None else " Tap {tap.diameter} mm, unless the screw cuts its own."
    return filled(
        "",
        screw,
        f"{literal(screw.id)}: {_aside(hole)}{_tilt(hole, len(plate.hole))}{drill}. Gauge through "
        f"the plate, on the longer side: {{gauge}} mm expected{_rests(plate, hole, screw)}.{tap} "
        f"{literal(screw.kind)}, {{length}} mm.",
    )


def _rests(plate: PlateRecord, hole: PlateHoleRecord, screw: ScrewRecord) -> str:
    """Where the reading counts from: a gauge on top of the plate cannot read from the seat."""
    if screw.gauge is None or screw.entry is None or screw.seat is None:
        return ""
    way, down = np.asarray(screw.direction), np.asarray(hole.axis)
    seat = np.asarray(screw.entry) + screw.seat * way
    over = float((seat - hole.centre) @ down) + plate.size.thickness  # from the top to the seat
    top = screw.gauge + over / float(way @ down)
    return (
        " from the lowest point of the head in its hole, from where the length counts; a gauge "
        f"that stands on top of the plate reads {top:.1f} mm"
    )


def _aside(hole: PlateHoleRecord) -> str:
    if not drilled_aside(hole):
        return ""
    return f"{abs(hole.offset):.1f} mm off the middle of the hole, away from the fracture; "


def _tilt(hole: PlateHoleRecord, last: int) -> str:
    """Tilt of the drill in its hole, by what a hand can see: towards the plate's ends and edges."""
    along, across = hole.tilt_along or 0.0, hole.tilt_across or 0.0
    said = []
    if abs(along) >= SQUARE:
        end = last if along > 0.0 else 1
        said.append(f"{abs(along):.0f}\N{DEGREE SIGN} along the plate, its tip towards hole {end}")
    if abs(across) >= SQUARE:
        edge = "left" if across > 0.0 else "right"
        said.append(
            f"{abs(across):.0f}\N{DEGREE SIGN} across it, its tip to the {edge} as seen from hole 1"
        )
    return f"tilted {' and '.join(said)}; " if said else ""


def plate_warnings(plate: PlateRecord) -> tuple[str, ...]:
    """What rules found of a plate and its screws, the same sentence once for all it concerns.

    Parameters
    ----------
    plate : PlateRecord
        The plate as planned.

    Returns
    -------
    tuple of str
        The gravest first.
    """
    every: list[tuple[str, FindingRecord]] = [
        *(("", finding) for finding in plate.findings),
        *((screw.id, finding) for screw in plate.screws for finding in screw.findings),
    ]
    told = [(name, finding) for name, finding in every if finding.verdict in TOLD]
    found: dict[str, list[str]] = {}
    for name, finding in sorted(told, key=lambda one: TOLD.index(one[1].verdict)):
        said = found.setdefault(f"{finding.verdict.upper()}: {{}}{finding.why}", [])
        said += [name] if name else []
    return tuple(text.replace("{}", _of(names), 1) for text, names in found.items())


def _of(names: Sequence[str]) -> str:
    return f"{', '.join(dict.fromkeys(names))}: " if names else ""
