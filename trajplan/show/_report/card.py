"""A screw's numbers as rows of a card, each under the name of its field in the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.show._terminal.hands import odds_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.files import (
        ChanceRecord,
        CortexRecord,
        HoleRecord,
        RangeRecord,
        ScrewRecord,
        WireRecord,
    )

__all__ = ["UNTOLD", "Group", "Row", "amount", "gauge_of", "screw_groups", "span", "wire_rows"]

#: What stands for a number that the plan does not have.
UNTOLD = "cannot be told"
#: Chances that a card lists, the greatest first.
CHANCES = 4


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a card."""

    field: str  # name in the plan file
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class Group:
    """Lines of a card that belong together."""

    title: str
    rows: tuple[Row, ...]


def amount(value: float | None, unit: str = "", digits: int = 1) -> str:
    """Write a number with its unit.

    Parameters
    ----------
    value : float or None
        None: the plan does not have it.
    unit : str
        Unit, empty for a pure number.
    digits : int
        Decimals.

    Returns
    -------
    str
    """
    if value is None:
        return UNTOLD
    number = f"{value:.{digits}f}"
    number = number.lstrip("-") if float(number) == 0.0 else number  # no "-0.0"
    return f"{number}\N{DEGREE SIGN}" if unit == "\N{DEGREE SIGN}" else f"{number} {unit}".rstrip()


def gauge_of(screw: ScrewRecord) -> str:
    """Write what the depth gauge will read.

    Parameters
    ----------
    screw : ScrewRecord
        The screw.

    Returns
    -------
    str
        "blind hole" where a gauge hooks on nothing.
    """
    return "blind hole" if screw.hold == "unicortical" else amount(screw.gauge, "mm")


def span(values: RangeRecord | None, unit: str, digits: int = 0) -> str:
    """Write a range with its unit.

    Parameters
    ----------
    values : RangeRecord or None
        The range.
    unit : str
        Its unit.
    digits : int
        Decimals.

    Returns
    -------
    str
    """
    if values is None or values.low is None or values.high is None:
        return UNTOLD
    return f"{values.low:.{digits}f} to {values.high:.{digits}f} {unit}"


def screw_groups(screw: ScrewRecord) -> tuple[tuple[Group, ...], tuple[Group, ...]]:
    """Every number of a screw, in two columns.

    Parameters
    ----------
    screw : ScrewRecord
        The screw.

    Returns
    -------
    tuple of two tuples of Group
        What is asked for first at the left.
    """
    left = (
        Group("Screw", _rows(_screw(screw))),
        Group("Length", _rows(_length(screw))),
        Group("Holes, depth from the entry", _rows(_holes(screw))),
    )
    right = (
        Group("Bone and fracture along the axis", _rows(_walls(screw))),
        Group("Hold and press (estimates for comparison)", _rows(_forces(screw))),
        Group("Placement error", _rows(_errors(screw))),
        Group("Place, in the frame of the bone, mm", _rows(_place(screw))),
    )
    return left, right


def wire_rows(wire: WireRecord) -> tuple[Row, ...]:
    """Every number of a provisional wire.

    Parameters
    ----------
    wire : WireRecord
        The wire.

    Returns
    -------
    tuple of Row
    """
    return _rows(
        [
            ("fracture_depth", "fracture at", amount(wire.fracture_depth, "mm")),
            ("near_hold", "in the near fragment", amount(wire.near_hold, "mm")),
            ("far_hold", "in the far fragment", amount(wire.far_hold, "mm")),
            ("tilt", "tilt to the fracture normal", amount(wire.tilt, "°")),
            ("entry", "entry", _point(wire.entry)),
            ("exit", "tip", _point(wire.exit)),
        ]
    )


_Cells = list[tuple[str, str, str]]


def _rows(cells: Iterable[tuple[str, str, str]]) -> tuple[Row, ...]:
    return tuple(Row(*cell) for cell in cells if cell[2])


def _screw(screw: ScrewRecord) -> _Cells:
    return [
        ("kind", "screw", screw.size),
        ("technique", "technique", f"{screw.technique} screw"),
        ("hold", "hold", screw.hold or ""),
        ("washer", "washer", screw.washer or "none"),
        ("zone", "fracture zone", screw.zone or "crosses none"),
        ("fragments", "fragments, in order", ", ".join(screw.fragments)),
        ("tilt", "tilt to the fracture normal", amount(screw.tilt, "°")),
        ("entry_angle", "axis to the surface normal", amount(screw.entry_angle, "°")),
    ]


def _length(screw: ScrewRecord) -> _Cells:
    return [
        ("gauge", "depth gauge, from the seat", gauge_of(screw)),
        ("length", "length on the tray", amount(screw.length, "mm", 0)),
        ("proud_tip", "tip stands out (negative: short of it)", amount(screw.proud_tip, "mm")),
        ("seat", "seat of the head, from the entry", amount(screw.seat, "mm")),
        ("rim_contact", "rim of the head on bone", _percent(screw.rim_contact)),
    ]


def _holes(screw: ScrewRecord) -> _Cells:
    sink = screw.countersink
    cut = "" if sink is None else f"Ø {sink.diameter:g} mm, {amount(sink.depth, 'mm')} deep"
    return [
        ("gliding_hole", "gliding hole", _hole(screw.gliding_hole)),
        ("shank_hole", "shank hole", _hole(screw.shank_hole)),
        ("thread_hole", "thread hole", _hole(screw.thread_hole) or UNTOLD),
        ("tap", "tap", _hole(screw.tap) or "none"),
        ("countersink", "countersink", cut or "none"),
    ]


def _walls(screw: ScrewRecord) -> _Cells:
    depth = screw.fracture_depth
    crossing = UNTOLD
    if depth is not None:
        crossing = f"{depth.axis:.1f} mm (round the thread {depth.min:.1f} to {depth.max:.1f} mm)"
    unclear = _stretches(screw.unknown_intervals)
    leaves = "yes, between entry and exit" if screw.leaves_bone else ""
    return [
        ("near_cortex", "near cortex", _cortex(screw.near_cortex)),
        ("far_cortex", "far cortex", _cortex(screw.far_cortex)),
        ("fracture_depth", "fracture crossed at", crossing),
        ("intervals", "in bone", _stretches(screw.intervals) or "nowhere"),
        ("unknown_intervals", "in bone or not: cannot be told", unclear),
        ("leaves_bone", "leaves the bone", leaves),
        *_profile(screw),
    ]


def _profile(screw: ScrewRecord) -> _Cells:
    """The bone that the thread bites, where a CT shows it."""
    profile = screw.bone_profile
    if profile is None:
        return []
    known = [turn.density.estimate for turn in profile.turns if turn.density.estimate is not None]
    told = ", ".join(f"{value:.2f}" for value in known) or UNTOLD
    return [
        ("bone_profile", "density of bone, turn by turn beyond the fracture, g/cm³", told),
        ("bone_profile.half", "half of the hold is reached by", amount(profile.half, "mm")),
    ]


def _forces(screw: ScrewRecord) -> _Cells:
    thread = screw.thread
    reach = UNTOLD if thread is None else f"{thread.start:.1f} to {thread.end:.1f} mm"
    return [
        ("thread", "thread", reach),
        ("purchase", "purchase beyond the fracture", amount(screw.purchase, "mm")),
        ("thread_turns", "turns of thread in it", amount(screw.thread_turns)),
        ("holding", "pull-out of the thread", span(screw.holding, "N")),
        ("preload", "force in the tightened screw", span(screw.preload, "N")),
        (
            "stripping_torque",
            "torque that strips the thread",
            span(screw.stripping_torque, "N·m", 1),
        ),
        ("breaking_torque", "torque that breaks the core", span(screw.breaking_torque, "N·m", 1)),
        ("head_area", "bone under head or washer", amount(screw.head_area, "mm²")),
        ("head_pressure", "pressure under it", span(screw.head_pressure, "MPa")),
        ("squeeze", "compression along the fracture normal", span(screw.squeeze, "N")),
        ("shear", "shear across it", span(screw.shear, "N")),
    ]


def _errors(screw: ScrewRecord) -> _Cells:
    forgiving = screw.forgiving
    if forgiving is None:
        kept = UNTOLD
    else:
        tilt, shift = amount(forgiving.tilt, "°"), amount(forgiving.shift, "mm", 2)
        kept = f"tilt {tilt}, shift {shift}"
    rows = [("forgiving", "fails no rule within", kept)]
    placement = screw.placement
    if placement is None:
        return [*rows, ("placement", "harm by hand", "not tried")]
    likely = sorted(placement.rules, key=lambda c: -(c.chance or 0.0))
    return [
        *rows,
        ("placement", "harm by hand", odds_text(placement.harm)),
        ("placement", "less than planned by hand", odds_text(placement.less)),
        ("placement", "most often fails", _named(likely[:CHANCES])),
    ]


def _place(screw: ScrewRecord) -> _Cells:
    return [
        ("entry", "entry", _point(screw.entry)),
        ("exit", "exit", _point(screw.exit)),
        ("direction", "direction, head to tip", _point(screw.direction, 4)),
        *_as_it_lies(screw),
    ]


def _as_it_lies(screw: ScrewRecord) -> _Cells:
    """The same on the image, in which the bone is not reduced."""
    lies = screw.as_it_lies
    if lies is None:
        return []
    return [
        ("as_it_lies.entry", f"entry on {lies.fragment} as it lies", _point(lies.entry)),
        ("as_it_lies.direction", "direction there", _point(lies.direction, 4)),
    ]


def _hole(hole: HoleRecord | None) -> str:
    if hole is None:
        return ""
    return f"Ø {hole.diameter:g} mm, {amount(hole.start)} to {amount(hole.end)} mm"


def _cortex(wall: CortexRecord | None) -> str:
    if wall is None or wall.thickness is None:
        return UNTOLD
    spread = "" if wall.spread is None else f" ± {wall.spread:.1f}"
    return f"{wall.thickness:.1f}{spread} mm ({wall.basis})"


def _stretches(values: Iterable[tuple[float, float]]) -> str:
    return ", ".join(f"{low:.1f} to {high:.1f}" for low, high in values)


def _point(values: Sequence[float] | None, digits: int = 1) -> str:
    if values is None:
        return "misses the bone"
    return ", ".join(amount(value, digits=digits) for value in values)


def _percent(share: float | None) -> str:
    return UNTOLD if share is None else f"{100 * share:.0f} %"


def _named(chances: Sequence[ChanceRecord]) -> str:
    return ", ".join(f"{c.rule.replace('_', ' ')} {odds_text(c)}" for c in chances)
