"""The plates of a plan as text: holes in the order of use, bends, steps, what cannot be told."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trajplan.files import worst_word
from trajplan.show._terminal.table import WIDTH, table
from trajplan.show._words.numbers import drilled_aside, number

if TYPE_CHECKING:
    from trajplan.files import (
        PlanFile,
        PlateHoleRecord,
        PlateOptionRecord,
        PlateRecord,
        RangeRecord,
        ScrewRecord,
    )

__all__ = ["plate_text"]


def plate_text(plan: PlanFile) -> str:
    """The plates of a plan for a person at a terminal.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        Empty where it has none.
    """
    if not plan.plates:
        return ""  # the screws of a long check lie on the disk: no need to have them all
    lag = {screw.id: screw for screw in plan.screws}
    return "\n\n".join(_plate(plate, lag) for plate in plan.plates)


def _plate(plate: PlateRecord, lag: dict[str, ScrewRecord]) -> str:
    size = plate.size
    who = "proposed" if plate.proposed else "as the case says"
    head = (
        f"{plate.id}: {plate.kind}, {plate.holes} holes, {size.length:.0f} mm long, to "
        f"{plate.work} ({who}). {plate.why}"
    )
    parts = [textwrap.fill(head, WIDTH, subsequent_indent="    "), _holes(plate, lag)]
    parts.append(_LEGEND)
    parts.append(_empty(plate))
    parts.append(_bends(plate))
    parts.append("Steps:\n" + "\n".join(
        textwrap.fill(step.says, WIDTH, initial_indent=f"{number:3d}. ", subsequent_indent=" " * 5)
        for number, step in enumerate(plate.order, start=1)
    ))  # fmt: skip
    parts.append(_lines(plate))
    parts.append(_options(plate))
    return "\n".join(part for part in parts if part)


_LEGEND = (
    "Length, gauge, aside (how far off its middle a hole is drilled) and gap below it, in mm;\n"
    "tilt in the hole in degrees."
)


def _holes(plate: PlateRecord, lag: dict[str, ScrewRecord]) -> str:
    """Filled holes in the order of use."""
    own = {screw.id: screw for screw in plate.screws}
    order = [name for step in plate.order for name in step.screws]
    filled = sorted(
        (hole for hole in plate.hole if hole.screw is not None),
        key=lambda hole: order.index(hole.screw) if hole.screw in order else len(order),
    )
    rows = [_row(plate, hole, {**lag, **own}[hole.screw or ""]) for hole in filled]
    head = ("hole", "use", "screw", "kind", "length", "gauge", "aside", "tilt", "gap", "worst")
    return table(head, rows)


def _row(plate: PlateRecord, hole: PlateHoleRecord, screw: ScrewRecord) -> tuple[str, ...]:
    return (
        str(hole.number),
        hole.use,
        screw.id,
        screw.kind,
        "?" if screw.length is None else f"{screw.length:g}",
        "-" if screw.hold == "unicortical" else number(screw.gauge),
        _aside(plate, hole),
        "-" if hole.tilt_along is None else f"{hole.tilt_along:.0f}",
        number(hole.gap),
        worst_word(screw.findings),
    )


def _aside(plate: PlateRecord, hole: PlateHoleRecord) -> str:
    if not drilled_aside(hole):
        return "middle"
    end = plate.holes if hole.offset > 0.0 else 1
    return f"{abs(hole.offset):.1f} to hole {end}"


def _empty(plate: PlateRecord) -> str:
    said = [f"hole {hole.number}: {hole.why}" for hole in plate.hole if hole.use == "empty"]
    return textwrap.fill(f"Empty: {'; '.join(said)}.", WIDTH) if said else ""


def _bends(plate: PlateRecord) -> str:
    rows = [
        (f"{b.after}-{b.after + 1}", f"{b.flatwise:.0f}", f"{b.twist:.0f}") for b in plate.bends
    ]
    fit = plate.fit
    lies = (
        f"It lies {number(fit.mean)} mm off the bone on average along its middle line, at most "
        f"{number(fit.largest)}; at its edges up to {number(fit.edge_largest)}. "
        f"{100 * fit.share_1:.0f} % of it is within 1 mm, {100 * fit.share_2:.0f} % within 2."
    )
    head = ("between holes", "bend, degrees", "twist, degrees")
    return f"{table(head, rows)}\n{textwrap.fill(lies, WIDTH)}"


#: Times as long as the fracture from which nobody asks how long a plate is: straight across.
ENDLESS = 20.0


def _lines(plate: PlateRecord) -> str:
    """What it presses, carries and holds, one line each."""
    forces = plate.forces
    one, other = plate.screws_each_side
    span = plate.span_ratio
    tells = span is not None and span < ENDLESS
    ratio = f"; it is {span:.1f} fractures long" if tells else ""
    lines = [
        (
            f"Screws through both walls: {one} and {other}; {100 * plate.density:.0f} % of its "
            f"holes are filled{ratio}. It stands {number(plate.stands_out)} mm out of the bone."
        )
    ]
    if plate.shift is not None:
        far = plate.gap_far
        then = (
            ""
            if far.straight is None
            else f", pressed without overbend {number(far.straight, 2)} mm"
        )
        lines.append(
            f"Eccentric screws move it {plate.shift:.1f} mm and press the fracture with "
            f"{_range(forces.squeeze)}. Gap on the far side before {number(far.before)} mm{then}."
        )
        lines.append(f"Overbend: {_overbend(plate.overbend)}. {plate.overbend_why}")
    if plate.work == "buttress":
        lines.append(
            f"The fragment pushes on it with {_range(forces.buttress)}. Each mm that its free end "
            f"is bent less presses with {number(forces.spring, 0)} N, until it yields."
        )
    rubs = f"; friction under it bears {_range(forces.friction)} along the bone"
    lines.append(
        f"Its weakest screw holds {_range(forces.holding)}{rubs * (plate.work != 'buttress')}."
    )
    lines.append(
        f"Bending stiffness: plate {number(forces.stiffness_plate)}, bone "
        f"{number(forces.stiffness_bone, 0)}, both as one {number(forces.stiffness_both, 0)} "
        f"N m²; it yields at {number(forces.yields_at)} N m."
    )
    if forces.why:
        lines.append(forces.why)
    return "\n".join(textwrap.fill(line, WIDTH, subsequent_indent="    ") for line in lines)


def _moved(option: PlateOptionRecord) -> str:
    """How far a place lies from the chosen one; of a move of nought nothing is said."""
    slide, turn = round(option.slide), round(option.turn)
    moves = [f"{slide:+d} mm along"] if slide else []
    moves += [f"{turn} degrees round"] if turn else []
    return f"{' and '.join(moves)} from it, " if moves else ""


def _options(plate: PlateRecord) -> str:
    lines = [
        f"Not chosen: {o.holes} holes, {_moved(o)}{o.screws} screws. {o.why}" for o in plate.options
    ]
    if any(f.verdict == "fail" for f in plate.findings) and plate.tally:
        rows = [
            (t.rule, str(t.places),
             "-" if t.nearest_miss is None else f"{t.nearest_miss:.2f} {t.unit}".strip())
            for t in plate.tally
        ]  # fmt: skip
        lines.append("What each rule cost:\n" + table(("rule", "places", "nearest miss"), rows))
    return "\n".join(
        line if "\n" in line else textwrap.fill(line, WIDTH, subsequent_indent="    ")
        for line in lines
    )


def _range(value: RangeRecord | None, unit: str = "N", digits: int = 0) -> str:
    if value is None or value.low is None or value.high is None:
        return "a force that cannot be told" if unit == "N" else "cannot be told"
    middle = "" if value.estimate is None else f" ({value.estimate:.{digits}f})"
    return f"{value.low:.{digits}f} to {value.high:.{digits}f}{middle} {unit}"


def _overbend(value: RangeRecord | None) -> str:
    if value is not None and value.low is None and value.estimate is not None:
        return f"{value.estimate:.1f} mm at the estimate of the force"
    return _range(value, "mm", 1)
