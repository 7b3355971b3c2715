"""A plate's numbers as rows of a card, its holes and bends as tables, its page at 1 : 1."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trajplan.files import worst_word
from trajplan.show._bending.sheet import bending_sheet
from trajplan.show._bending.template import paper_of, template_bytes
from trajplan.show._bending.text import BEND_KEY, HEADS, bend_rows
from trajplan.show._report.card import UNTOLD, Group, Row, amount, gauge_of, span
from trajplan.show._report.sections import for_a_page
from trajplan.show._words.numbers import drilled_aside

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from trajplan.files import PlanFile, PlateGapRecord, PlateHoleRecord, PlateRecord, ScrewRecord
    from trajplan.show._bending.sheet import PlateBends

__all__ = ["PlateCard", "plate_cards"]

#: Heads of the table of holes.
HOLE_HEADS = ("hole", "use", "screw", "gauge", "thread hole", "over", "gap", "why so")


@dataclass(frozen=True, slots=True)
class PlateCard:
    """What the page shows of a plate."""

    record: PlateRecord
    worst: str
    heading: str
    groups: tuple[tuple[Group, ...], tuple[Group, ...]]  # two columns
    hole_heads: tuple[str, ...]
    holes: tuple[tuple[str, ...], ...]
    bend_heads: tuple[str, ...]
    bends: tuple[tuple[str, ...], ...]
    bend_key: str
    steps: Any  # of the bending sheet
    template: Markup | None  # None where it is not to be bent as planned
    paper: str  # of the template


def plate_cards(plan: PlanFile) -> tuple[PlateCard, ...]:
    """Say everything of the plates of a plan.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of PlateCard
    """
    sheet = bending_sheet(plan)
    return tuple(
        _card(plan, record, bends, number, f"{sheet.title}. {sheet.side}.")
        for number, (record, bends) in enumerate(
            zip(plan.plates, sheet.plates, strict=True), start=1
        )
    )


def _card(
    plan: PlanFile, record: PlateRecord, bends: PlateBends, number: int, title: str
) -> PlateCard:
    svg = None
    if bends.steps:
        drawn = template_bytes([(record, bends)], title, "svg").decode()
        svg = for_a_page(drawn, f"template-{number}-")
    found = [*record.findings, *(f for screw in record.screws for f in screw.findings)]
    return PlateCard(
        record=record,
        worst=worst_word(found),
        heading=f"{record.id}: {record.kind}, {record.holes} holes, to {record.work}",
        groups=(tuple(_left(record)), tuple(_right(record))),
        hole_heads=HOLE_HEADS,
        holes=tuple(_holes(plan, record)),
        bend_heads=(*HEADS[:-1], "note"),
        bends=tuple(bend_rows(bends)),
        bend_key=BEND_KEY,
        steps=bends.steps,
        template=svg,
        paper=paper_of(record),
    )


def _left(plate: PlateRecord) -> Iterator[Group]:
    first = plate.first_fragment or "either"
    low, high = plate.screws_each_side
    work = [
        Row("work", "work", f"{plate.work}{' (proposed)' if plate.proposed else ''}"),
        Row("screws_each_side", "screws through both walls, each side", f"{low} and {high}"),
        Row("density", "holes that hold a screw", amount(100.0 * plate.density, "%", 0)),
        Row("span_ratio", "its length over the fracture's", amount(plate.span_ratio)),
        Row("stands_out", "stands out of the bone, at most", amount(plate.stands_out, "mm")),
    ]
    if plate.work == "compress":
        work.insert(1, Row("first_fragment", "fragment that is fixed first", first))
        work.insert(2, Row("shift", "eccentric screws move it by", amount(plate.shift, "mm")))
    yield Group("Work", tuple(work))
    fit = plate.fit
    yield Group(
        "Fit",
        (
            Row("fit.mean", "gap along its middle, mean", amount(fit.mean, "mm")),
            Row("fit.largest", "the same, largest", amount(fit.largest, "mm")),
            Row("fit.edge_largest", "gap at its edges, largest", amount(fit.edge_largest, "mm")),
            Row("fit.share_1", "underside within 1 mm", amount(100.0 * fit.share_1, "%", 0)),
            Row("fit.share_2", "underside within 2 mm", amount(100.0 * fit.share_2, "%", 0)),
            Row("fit.depth", "cuts into bone", amount(fit.depth, "mm", 2)),
        ),
    )


def _right(plate: PlateRecord) -> Iterator[Group]:
    if plate.work == "compress":
        yield Group("Gap between the fragments", (
            Row("gap_near", "near side, under the plate", _gap(plate.gap_near)),
            Row("gap_far", "far side", _gap(plate.gap_far)),
            Row("overbend", "overbend, middle off the bone", span(plate.overbend, "mm", 1)),
            Row("overbend.estimate", "the same, wanted", amount(
                plate.overbend.estimate if plate.overbend else None, "mm")),
        ))  # fmt: skip
    forces = plate.forces
    rows = [
        Row("forces.tension", "pull of one eccentric screw", span(forces.tension, "N")),
        Row("forces.squeeze", "presses the fracture", span(forces.squeeze, "N")),
    ] if plate.work == "compress" else []  # fmt: skip
    if plate.work == "buttress":
        rows.append(Row("forces.buttress", "push that holds the fragment up",
                        span(forces.buttress, "N")))  # fmt: skip
        rows.append(
            Row("forces.spring", "spring for each mm bent less", amount(forces.spring, "N"))
        )
    rows += [
        Row("forces.holding", "its weakest screw holds", span(forces.holding, "N")),
        Row("forces.friction", "carried by friction along the bone", span(forces.friction, "N")),
        Row("forces.stiffness_plate", "bending stiffness, plate alone",
            amount(forces.stiffness_plate, "N\N{MIDDLE DOT}m²")),
        Row("forces.stiffness_bone", "the same, bone", amount(forces.stiffness_bone,
                                                              "N\N{MIDDLE DOT}m²")),
        Row("forces.stiffness_both", "the same, both, fracture closed",
            amount(forces.stiffness_both, "N\N{MIDDLE DOT}m²")),
        Row("forces.yields_at", "plate yields at", amount(forces.yields_at, "N\N{MIDDLE DOT}m")),
    ]  # fmt: skip
    known = tuple(row for row in rows if row.value != UNTOLD or row.field == "forces.squeeze")
    if known:
        yield Group("Forces, estimates for comparison", known)


def _gap(gap: PlateGapRecord) -> str:
    before, straight, after = (amount(g, "mm", 2) for g in (gap.before, gap.straight, gap.after))
    return f"before {before}; straight plate {straight}; overbent {after}"


def _holes(plan: PlanFile, plate: PlateRecord) -> Iterator[tuple[str, ...]]:
    screws: dict[str, ScrewRecord] = {s.id: s for s in (*plan.screws, *plate.screws)}
    for hole in plate.hole:
        screw = screws.get(hole.screw or "")
        drill = None if screw is None else screw.thread_hole
        yield (
            str(hole.number),
            hole.use,
            "\N{EN DASH}" if screw is None else f"{screw.id}: {screw.size}",
            "\N{EN DASH}" if screw is None else gauge_of(screw),
            "\N{EN DASH}" if drill is None else f"{drill.diameter:g} to {drill.end:.1f} mm",
            hole.fragment or "the fracture",
            amount(hole.gap, "mm"),
            hole.why or _aside(hole),
        )


def _aside(hole: PlateHoleRecord) -> str:
    return f"drilled {abs(hole.offset):.1f} mm off its middle" if drilled_aside(hole) else ""
