"""Steps of one screw, in the order of its technique."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.show._drill.draft import Draft, filled, joined, literal
from trajplan.show._drill.torque import torques

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.files import ScrewRecord
    from trajplan.implants import Screw

__all__ = ["per_screw"]


NO_GLIDING_HOLE = (
    "The plan gives no gliding hole, because the axis does not meet the fracture as given: the "
    "thread bites wherever there is bone, and this screw presses nothing together."
)


def per_screw(
    screw: ScrewRecord, kind: Screw, *, several: bool, in_plate: bool = False
) -> Iterator[Draft]:
    """Steps of one screw in their order.

    Parameters
    ----------
    screw : ScrewRecord
        The screw as planned.
    kind : Screw
        Its kind in the catalogue.
    several : bool
        Whether it is tightened in turn with others.
    in_plate : bool
        Whether its head rests in the hole of a plate.

    Yields
    ------
    Draft
        Of a screw that may be drilled as planned.
    """
    yield from _where_it_lies(screw)
    yield from _start(screw)
    if screw.gliding_hole is not None:
        yield _gliding_hole(screw)
        yield _thread_hole(screw, kind, _sleeve(screw))
    else:
        if screw.technique == "lag" and not kind.partial:
            yield Draft("No gliding hole", NO_GLIDING_HOLE)
        yield _thread_hole(screw, kind, "Through the drill sleeve, ")
        yield from _shank_hole(screw, kind)
    yield _countersink(screw, kind, in_plate=in_plate)
    yield _gauge(screw, in_plate=in_plate)
    yield _tap(screw, kind)
    yield _screw(screw, partial=kind.partial, several=several)
    yield _imaging(screw)


def _where_it_lies(screw: ScrewRecord) -> Iterator[Draft]:
    """Where the entry is found on the image, in which the fragments are not reduced."""
    if screw.as_it_lies is not None:
        yield filled(
            "Find the entry",
            screw,
            f"In the image, before the reduction, the entry lies on "
            f"{literal(screw.as_it_lies.fragment)} at ({{as_it_lies.x}}, {{as_it_lies.y}}, "
            "{as_it_lies.z}) mm. Drill only once the bone is reduced.",
        )


#: Verdicts of `entry_angle` at which the drill is started square.
SLANTED = {"note", "caution"}


def _start(screw: ScrewRecord) -> Iterator[Draft]:
    """Only where a rule found that the drill may skid; one that fails it is not drilled."""
    if any(f.rule == "entry_angle" and f.verdict in SLANTED for f in screw.findings):
        yield filled(
            "Start the drill",
            screw,
            "The axis meets the surface {entry_angle}\N{DEGREE SIGN} off its normal: start the "
            "drill square to the bone, then turn it into the axis, or hold it in a sleeve.",
        )


def _gliding_hole(screw: ScrewRecord) -> Draft:
    return filled(
        "Gliding hole",
        screw,
        "Near fragment only: with the {gliding_hole.diameter} mm drill through its sleeve, along "
        "the axis, to {gliding_hole.end} mm from the bone's surface. That is where the whole drill "
        "has just passed the fracture, which lies {fracture_depth.min} to {fracture_depth.max} mm "
        "deep round the hole; no deeper.",
    )


def _sleeve(screw: ScrewRecord) -> str:
    if screw.thread_hole is None:
        return ""
    return (
        "Push the sleeve of the {thread_hole.diameter} mm drill into the gliding hole until it "
        "stands on the far fragment. Through it, "
    )


def _thread_hole(screw: ScrewRecord, kind: Screw, sleeve: str) -> Draft:
    if screw.thread_hole is None:
        to = (
            "through the far cortex" if screw.hold != "unicortical" else "as deep as the screw goes"
        )
        return Draft(
            "Thread hole",
            f"UNKNOWN: no source of the catalogue names the drill of {kind.kind}. Take it from the "
            f"maker's instructions; drill {to}.",
        )
    if screw.hold == "unicortical":
        end = (
            "to {thread_hole.end} mm from the bone's surface and no deeper: the far cortex stays "
            "whole."
        )
    else:
        end = (
            "through the far cortex, which the drill leaves {thread_hole.end} mm from the near "
            "surface at its deepest side. Stop as it gives way."
        )
    where = "in the far fragment" if screw.gliding_hole is not None else "through both fragments"
    drill = "with the {thread_hole.diameter} mm drill, " + where + ", "
    text = sleeve + drill + end
    return filled("Thread hole", screw, text[0].upper() + text[1:])


def _shank_hole(screw: ScrewRecord, kind: Screw) -> Iterator[Draft]:
    """A smooth shank thicker than the thread hole needs room; a full thread has none."""
    if screw.technique != "lag" or not kind.partial:
        return
    if screw.shank_hole is not None:
        yield filled(
            "Shank hole",
            screw,
            "Widen the near side with the {shank_hole.diameter} mm drill to {shank_hole.end} mm "
            "from the bone's surface, for the shank; no deeper.",
        )
    elif kind.shank_hole is None:
        yield Draft(
            "Shank hole",
            f"UNKNOWN: no source of the catalogue names the drill for the shank of {kind.kind}. "
            "Take it from the maker's instructions.",
        )


def _countersink(screw: ScrewRecord, kind: Screw, *, in_plate: bool) -> Draft:
    sunk = screw.countersink
    if sunk is None:
        why = (
            "the head rests in the hole of the plate"
            if in_plate
            else "the washer spreads the load"
            if screw.washer
            else "the head would sink into soft bone"
            if screw.hold == "unicortical"
            else f"no source of the catalogue names one for {kind.kind}"
            if kind.countersink is None
            else "the near cortex is not known to bear one"
        )
        return Draft("No countersink", f"None is cut: {why}.")
    near, depth = screw.near_cortex, screw.fracture_depth
    cortex = " Keep the rest of the near cortex whole."
    if near is not None and near.thickness is not None:
        told = ", assumed" if near.basis == "assumed" else ""
        cortex = (
            " The near cortex is {near_cortex.thickness} mm thick along the axis" + told + ": "
            "do not break through it."
        )
        if depth is not None and depth.min < near.thickness:
            cortex = " The fracture lies {fracture_depth.min} mm deep: keep well short of it."
    return filled(
        "Countersink",
        screw,
        "With the {countersink.diameter} mm countersink, {countersink.depth} mm deep along the "
        "axis, most on the high side of the rim." + cortex,
    )


def _gauge(screw: ScrewRecord, *, in_plate: bool) -> Draft:
    washer = " with the washer in place" if screw.washer else ""
    rests = (
        ", its lowest point in the hole of the plate (a gauge on top of the plate reads more)"
        if in_plate
        else ""
    )
    if screw.hold == "unicortical":
        return filled(
            "Measure",
            screw,
            f"The hole is blind: measure{washer} from the seat of the head to its bottom. "
            "Expected: {blind_depth} mm. The {length} mm screw must not reach the bottom, or it "
            "presses nothing together: where the hole reads less, deepen it with the drill stopped "
            "at {thread_hole.end} mm from the bone's surface, or take a shorter screw.",
        )
    return filled(
        "Depth gauge",
        screw,
        f"Measure{washer} from the seat of the head{rests}; hook the gauge on the longer side. "
        "Expected: {gauge} mm. Where it reads otherwise, check axis and hole, and take the length "
        "by the gauge.",
    )


def _tap(screw: ScrewRecord, kind: Screw) -> Draft:
    tap = screw.tap
    if tap is None:
        return Draft(
            "Tap",
            f"UNKNOWN: no source of the catalogue names a tap for {kind.kind}. See the maker's "
            "instructions.",
        )
    if kind.thread == "deep":
        known = screw.near_cortex is not None and screw.near_cortex.thickness is not None
        where = "the near cortex only" if known else "the first turns only"
        text = (
            f"With the {{tap.diameter}} mm tap, {where}, to {{tap.end}} mm from the bone's surface;"
            " the thread cuts its own way beyond."
        )
    elif screw.gliding_hole is not None:
        text = (
            "With the {tap.diameter} mm tap, the far fragment only, from {tap.start} to {tap.end} "
            "mm from the near surface."
        )
    else:
        text = (
            "With the {tap.diameter} mm tap, the whole hole, near and far fragment, to {tap.end} "
            "mm from the near surface."
        )
    return filled("Tap", screw, text + " Not for a self-tapping screw.")


def _screw(screw: ScrewRecord, *, partial: bool, several: bool) -> Draft:
    washer = f" with washer {literal(screw.washer)}," if screw.washer else ""
    if screw.technique == "position":
        end = (
            "until the head is seated. It holds the distance between the fragments as it is and "
            "closes no gap."
        )
    elif screw.gliding_hole is None and not partial:
        end = "until the head bears; nothing closes the gap."
    elif several:
        end = "until the head just bears; it is tightened in turn with the others."
    else:
        end = "until the head bears and the fracture closes."
    drive = filled(
        "Screw", screw, f"Drive {literal(screw.kind)}, {{length}} mm long,{washer} {end}"
    )
    if several and screw.technique == "lag":
        return drive  # tightened later, where its torques stand
    return joined(drive, torques([screw]))


def _imaging(screw: ScrewRecord) -> Draft:
    parts = []
    if screw.proud_tip is not None and screw.hold != "unicortical":
        parts.append("The tip protrudes {proud_tip} mm past the far cortex.")
    elif screw.hold == "unicortical":
        parts.append("Tip inside the bone, short of the far cortex.")
    if screw.technique == "lag" and screw.thread is not None and screw.gliding_hole is None:
        parts.append("Whole thread beyond the fracture: it begins {thread.start} mm deep.")
    if screw.technique == "lag" and screw.gliding_hole is not None:
        parts.append("No thread bites the near fragment.")
    if screw.technique == "position":
        parts.append("Fragments no further apart than before.")
    return filled("Check on imaging", screw, " ".join(["Axis as planned.", *parts]))
