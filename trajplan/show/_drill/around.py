"""Steps of a drill sheet before the first screw and after the last."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from trajplan.show._drill.draft import Draft, drillable, filled, joined, literal, ready_parts
from trajplan.show._drill.entry import mark_entry
from trajplan.show._drill.torque import torques

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trajplan.files import FindingRecord, PlanFile, ScrewRecord, WireRecord

__all__ = ["after", "before", "in_turn"]


def before(plan: PlanFile) -> Iterator[Draft]:
    """Reduce and hold.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Yields
    ------
    Draft
    """
    yield Draft(
        "Reduce and hold",
        "Reduce the fracture until no step and no gap is left, hold it with forceps, and check the "
        "reduction on imaging in two planes. The plan is valid for the reduced bone only.",
    )
    for wire in plan.wires:
        yield _wire(wire)
        yield from mark_entry(plan, wire.id)
    if not plan.wires:
        yield Draft(
            "Provisional wire",
            "Where forceps alone do not hold: a wire across the fracture, at a right angle to it "
            "and clear of every planned screw. The plan places none.",
        )


def _wire(wire: WireRecord) -> Draft:
    return filled(
        "Provisional wire",
        wire,
        literal(wire.id) + ": drive a {diameter} mm wire across the fracture, which it meets "
        "{fracture_depth} mm deep, {tilt}\N{DEGREE SIGN} off its normal. It stays clear of every "
        "planned screw.",
    )


def in_turn(lag: Sequence[ScrewRecord]) -> Draft:
    """Tighten several lag screws.

    Parameters
    ----------
    lag : sequence of ScrewRecord
        Two or more.

    Returns
    -------
    Draft
    """
    names = ", ".join(screw.id for screw in lag)
    turns = Draft(
        "Tighten in turn",
        f"Tighten {names} in turn, a little each time, until all hold: the first one tightened "
        "alone can tilt the fragment and loosen again when the next one pulls.",
    )
    return joined(turns, torques(lag))


def after(plan: PlanFile) -> Iterator[Draft]:
    """Tighten, check, take out what held for the moment.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Yields
    ------
    Draft
    """
    drilled = drillable(plan)
    if not drilled:
        return
    lag = [screw for screw in drilled if screw.technique == "lag"]
    names = ", ".join(screw.id for screw in lag)
    if len(lag) > 1 and not plan.plates:  # with a plate it stands where its order has it
        yield in_turn(lag)
    closes = f" Fracture closed under {names}." if lag else ""
    of_screws = (screw.findings for screw in drilled)
    told = chain(plan.findings, *of_screws, *(plate.findings for plate in plan.plates))
    joint = any(finding.rule == "joint_clearance" for finding in told)
    outside = " No tip in a joint, with the joint moved through its range." if joint else ""
    yield Draft(
        "Check on imaging",
        f"Two planes at a right angle, and along each screw: reduction kept.{closes} Heads seated."
        f" Length of every tip as planned.{outside}",
    )
    if ready_parts(plan) & {plate.id for plate in plan.plates}:
        yield Draft(
            "Finish",
            "Take out the forceps and what wires are not to stay. Tighten every screw of the "
            f"plate once more, its head in its hole. {_load_with_plate(plan.findings)}",
        )
        return
    yield Draft(
        "Finish", f"Take out the forceps and what wires are not to stay. {_load(plan.findings)}"
    )


def _load_with_plate(findings: Iterable[FindingRecord]) -> str:
    """What the plan says of the load on a fracture that has a plate."""
    told = [f"{one.verdict.upper()}: {one.why}" for one in findings if one.rule == "opening_load"]
    if told:
        return f"Of the load that the fracture bears this plan says: {' '.join(told)}"
    return "This plan does not judge how much load the fracture may bear."


def _load(findings: Iterable[FindingRecord]) -> str:
    """What the plan says of screws that bear load alone."""
    alone = [finding.why for finding in findings if finding.rule == "screws_alone"]
    if alone:
        return f"Whether the screws may bear load alone: {' '.join(alone)}"
    return (
        "This plan does not judge whether the screws alone can carry the load: a short oblique "
        "fracture or poor bone needs a plate that protects or buttresses them."
    )
