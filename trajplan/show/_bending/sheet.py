"""Bending sheet: the bends of a plate in the order in which a bender makes them.

Flatwise bends come first, so that the plate can be held edge-on against the page while it is
not yet twisted; then the twists; last the overbend, which goes on top of the exact form. The
order of the first two is an assumption of the project.

References
----------
.. [1] Wheeless' Textbook of Orthopaedics, prebending of plates: exact contouring, then an
   additional bend of the segment that bridges the fracture; it spans the inner screws.
.. [2] AO Foundation, online surgery reference: tibial shaft, oblique, compression plate (a short
   convex bend at the fracture, by pliers or bending irons); malleoli, plate preparation (a
   template first; the plate is contoured before it is applied).
.. [3] Lin et al. 2016, J Orthop Surg Res 11:107, abstract: a plate bent to and fro nine times
   bears fewer cycles.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count, pairwise
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.cautions import CAUTIONS
from trajplan.show._drill.draft import not_reduced
from trajplan.show._items.plate_solid import plate_of
from trajplan.show._words.places import side_text
from trajplan.show._words.sides import side_name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.files import PlanFile, PlateRecord, RangeRecord

__all__ = ["BendStep", "BendingSheet", "Bridge", "PlateBends", "bending_sheet", "overbend_angle"]


@dataclass(frozen=True, slots=True)
class Bridge:
    """The stretch of a plate between two holes."""

    after: int  # hole, from 1, that it follows
    at: float  # mm from the first end to its middle
    flatwise: float  # degrees; plus: the ends bend towards the bone
    twist: float  # degrees; plus: clockwise, seen from the first end
    over: bool  # whether it bridges the fracture

    @property
    def name(self) -> str:
        """Its two holes."""
        return f"{self.after} to {self.after + 1}"

    @property
    def bend_words(self) -> str:
        """Flatwise bend, such as "down 4": down is towards the bone."""
        return _signed(self.flatwise, "down", "up")

    @property
    def twist_words(self) -> str:
        """Twist, such as "clockwise 3"."""
        return _signed(self.twist, "clockwise", "anticlockwise")


@dataclass(frozen=True, slots=True)
class BendStep:
    """One step; numbers run through the sheet of one plate."""

    number: int
    action: str  # one or two words
    text: str


@dataclass(frozen=True, slots=True)
class PlateBends:
    """One plate."""

    plate: str  # id
    heading: str
    length: float  # mm, along the plate
    bridges: tuple[Bridge, ...]
    overbend: float | None  # degrees, wanted
    stand_off: tuple[float, float, float] | None  # mm: low, wanted, high
    steps: tuple[BendStep, ...]  # none where the plate fails a rule


@dataclass(frozen=True, slots=True)
class BendingSheet:
    """The plates of a plan."""

    title: str
    side: str  # of the body, and the frame
    verdict: str
    cautions: tuple[str, ...]
    plates: tuple[PlateBends, ...]


def bending_sheet(plan: PlanFile) -> BendingSheet:
    """Write down how the plates of a plan are bent.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    BendingSheet
    """
    return BendingSheet(
        title=plan.title or plan.case.name,
        side=side_text(plan),
        verdict=plan.verdict,
        cautions=tuple(dict.fromkeys((*CAUTIONS, *plan.cautions))),
        plates=tuple(_plate(record, plan) for record in plan.plates),
    )


def overbend_angle(stand_off: float, length: float) -> float:
    """Angle of a bend at the middle of a plate whose middle then stands off its ends' line.

    Parameters
    ----------
    stand_off : float, mm
        Of the middle, the plate resting on its ends.
    length : float, mm
        Of the plate.

    Returns
    -------
    float, degrees
        Two straight halves lean by ``2 stand_off / length`` each, as in
        `trajplan.mechanics.overbend`.
    """
    return float(np.degrees(4.0 * stand_off / length))


def _plate(record: PlateRecord, plan: PlanFile) -> PlateBends:
    bridges = tuple(_bridges(record))
    over = _known(record.overbend)
    failed = [finding.rule for finding in record.findings if finding.verdict == "fail"]
    heading = f"{record.id}: {record.kind}, {record.holes} holes, to {record.work}"
    if failed:
        heading += f", NOT TO BE BENT as planned, it fails {', '.join(failed)}: no steps"
    elif not_reduced(plan):
        heading += ", NOT TO BE BENT before the reduction: no steps"
    angle = None if over is None else overbend_angle(over[1], record.size.length)
    drafts = () if failed or not_reduced(plan) else _steps(record, plan, bridges, over, angle)
    numbers = count(1)
    steps = tuple(BendStep(next(numbers), action, text) for action, text in drafts)
    return PlateBends(record.id, heading, record.size.length, bridges, angle, over, steps)


def _bridges(record: PlateRecord) -> Iterator[Bridge]:
    bent = plate_of(record)
    places = bent.nodes[bent.hole]
    for bridge, (low, high), (one, next_) in zip(
        record.bends, pairwise(places), pairwise(record.hole), strict=True
    ):
        ends = (one.along, next_.along)
        over = None not in ends and (ends[0] or 0.0) >= 0.0 > (ends[1] or 0.0)
        yield Bridge(bridge.after, float(low + high) / 2.0, bridge.flatwise, bridge.twist, over)


def _signed(angle: float, plus: str, minus: str) -> str:
    return f"{plus if angle > 0.0 else minus} {abs(angle):.0f}" if round(angle) else "none"


def _known(values: RangeRecord | None) -> tuple[float, float, float] | None:
    """Low, wanted and high; the wanted one stands for an end that is not known."""
    if values is None or values.estimate is None:
        return None
    low = values.estimate if values.low is None else values.low
    return low, values.estimate, values.estimate if values.high is None else values.high


ON_THE_PAGE = (
    "Hold the plate edge-on against the profile on its page, before any twist: its underside "
    "follows the line. Metal springs back: bend on until it does."
)
ON_THE_BONE = "Lay it on a template of the bone or on the bone itself, hole 1 at its end."


def _steps(
    record: PlateRecord,
    plan: PlanFile,
    bridges: tuple[Bridge, ...],
    over: tuple[float, float, float] | None,
    angle: float | None,
) -> Iterator[tuple[str, str]]:
    yield "Find the ends", _ends(record, plan)
    bends = [b for b in bridges if round(b.flatwise)]
    twists = [b for b in bridges if round(b.twist)]
    if not bends and not twists:
        yield "No contour", "The plate lies on the bone as it is: no bend and no twist."
    for b in bends:
        yield "Bend", f"{_place(b)}: {b.bend_words}\N{DEGREE SIGN}."
    if bends:
        yield "Check", ON_THE_PAGE
    for b in twists:
        yield "Twist", f"{_place(b)}: {b.twist_words}\N{DEGREE SIGN}."
    if bends or twists:
        yield "Check", f"{ON_THE_BONE} {_gap(record)}"
    if over is not None and angle is not None:
        yield "Overbend", _overbend(bridges, over, angle)
    elif record.work == "compress":
        why = f" {record.overbend_why}" if record.overbend_why else ""
        yield "Overbend", f"UNKNOWN: how much the plate is to be overbent cannot be told.{why}"


def _ends(record: PlateRecord, plan: PlanFile) -> str:
    points = as_points(record.line)
    way = as_directions(points[0] - points[-1])[0]
    return (
        f"Hole 1 lies at the end that points {side_name(plan.frame, plan.bearings, way)}. Bend "
        "between holes only, so that the holes keep their form; each place once, never to and "
        "fro: that tires the metal."
    )


def _place(bridge: Bridge) -> str:
    return f"Holes {bridge.name}, {bridge.at:.0f} mm from the end"


def _gap(record: PlateRecord) -> str:
    fit = record.fit
    if fit.largest is None or fit.edge_largest is None:
        return "How near it comes to the bone cannot be told everywhere."
    return (
        f"Expected: no more than {fit.largest:.1f} mm of gap along its middle and "
        f"{fit.edge_largest:.1f} mm at its edges."
    )


def _overbend(bridges: tuple[Bridge, ...], over: tuple[float, float, float], angle: float) -> str:
    at = next((b for b in bridges if b.over), None)
    where = "over the fracture" if at is None else f"holes {at.name}, over the fracture"
    return (
        f"Last, {where}: a short, sharp bend of {angle:.1f}\N{DEGREE SIGN} more, ends down, so "
        f"that the plate's middle stands {over[1]:.1f} mm off the bone ({over[0]:.1f} to "
        f"{over[2]:.1f} mm) when it rests on its ends. Too little and the far side opens, too "
        "much and the near side does."
    )
