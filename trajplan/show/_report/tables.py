"""Tables of a report: findings, implants, instruments, forces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.files import TOLD
from trajplan.implants import find_screw
from trajplan.show._drill.draft import drillable
from trajplan.show._items.plate import every_screw
from trajplan.show._report.card import Row, amount
from trajplan.show._terminal.forces import reserve_text, times_text
from trajplan.show._terminal.hands import hand_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from trajplan.files import FindingRecord, HoleRecord, OpeningRecord, PlanFile
    from trajplan.implants import Catalogue

__all__ = [
    "Implant",
    "Judged",
    "force_rows",
    "implants",
    "instruments",
    "judged",
]

#: Verdicts, the gravest first.
ORDER = (*TOLD, "pass")


@dataclass(frozen=True, slots=True)
class Judged:
    """A finding in words."""

    verdict: str
    subject: str
    rule: str
    measured: str
    limit: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Implant:
    """A line of the list of implants."""

    count: int
    name: str
    facts: str
    subjects: str  # ids of the screws or wires


def judged(findings: Iterable[FindingRecord]) -> tuple[Judged, ...]:
    """Write findings in words, the gravest first.

    Parameters
    ----------
    findings : iterable of FindingRecord
        Findings of a plan.

    Returns
    -------
    tuple of Judged
    """
    ordered = sorted(findings, key=lambda f: ORDER.index(f.verdict))
    return tuple(
        Judged(
            verdict=f.verdict,
            subject=f.subject,
            rule=f.rule.replace("_", " "),
            measured=_measure(f.measured, f.unit),
            limit=_measure(f.limit, f.unit),
            why=f.why,
            source=f.source,
        )
        for f in ordered
    )


def implants(plan: PlanFile, catalogue: Catalogue) -> tuple[Implant, ...]:
    """Plates, screws, washers and wires of a plan, equal ones counted.

    Parameters
    ----------
    plan : PlanFile
        The plan.
    catalogue : Catalogue
        Where its screws, washers and wires are found.

    Returns
    -------
    tuple of Implant
    """
    placed = [screw for screw in every_screw(plan) if screw.length is not None]
    named = _named(plan)
    screws: dict[tuple[str, str], list[str]] = {}
    washers: dict[tuple[str, str], list[str]] = {}
    wires: dict[tuple[str, str], list[str]] = {}
    plates: dict[tuple[str, str], list[str]] = {}
    for plate in plan.plates:
        size = plate.size
        facts = f"{size.length:.0f} mm long, {size.width:g} mm wide, {size.thickness:g} mm thick"
        name = f"plate {plate.kind}, {plate.holes} holes"
        plates.setdefault((name, facts), []).append(plate.id)
    for screw in placed:
        kind = find_screw(catalogue, screw.kind)
        facts = (
            f"{kind.thread} thread {kind.thread_diameter:g} mm, core {kind.core_diameter:g} mm, "
            f"head {kind.head_diameter:g} mm"
        )
        screws.setdefault((screw.size, facts), []).append(named[screw.id])
        if screw.washer:
            washer = catalogue.washers[screw.washer]
            facts = f"outer {washer.outer_diameter:g} mm, inner {washer.inner_diameter:g} mm"
            washers.setdefault((f"washer {washer.id}", facts), []).append(named[screw.id])
    for wire in plan.wires:
        facts = f"{wire.diameter:g} mm, for provisional hold"
        wires.setdefault((f"wire {wire.kind}", facts), []).append(wire.id)
    return tuple(
        Implant(len(ids), name, facts, ", ".join(ids))
        for part in (plates, screws, washers, wires)
        for (name, facts), ids in part.items()
    )


def _named(plan: PlanFile) -> dict[str, str]:
    """Names of the screws in a list of what is needed, those that fail marked."""
    ready = {screw.id for screw in drillable(plan)}
    return {
        screw.id: screw.id if screw.id in ready else f"{screw.id} (not to be drilled as planned)"
        for screw in every_screw(plan)
    }


def instruments(plan: PlanFile) -> tuple[Implant, ...]:
    """Drills, taps and countersinks that the holes of a plan ask for.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of Implant
    """
    named = _named(plan)
    found: dict[tuple[str, str], list[str]] = {}
    for screw in every_screw(plan):
        name = named[screw.id]
        holes: Mapping[str, HoleRecord | None] = {
            "gliding hole": screw.gliding_hole,
            "shank hole": screw.shank_hole,
            "thread hole": screw.thread_hole,
        }
        for use, hole in holes.items():
            if hole is not None:
                found.setdefault((f"drill {hole.diameter:g} mm", use), []).append(name)
        if screw.tap is not None:
            found.setdefault((f"tap {screw.tap.diameter:g} mm", "thread"), []).append(name)
        if screw.countersink is not None:
            cut = f"countersink {screw.countersink.diameter:g} mm"
            found.setdefault((cut, "seat of the head"), []).append(name)
    return tuple(Implant(1, name, use, ", ".join(ids)) for (name, use), ids in found.items())


def force_rows(plan: PlanFile) -> tuple[Row, ...]:
    """How all screws together press, slide and open.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    tuple of Row
        None where nothing presses.
    """
    return tuple(_forces(plan))


def _forces(plan: PlanFile) -> Iterator[Row]:
    contact, reserve, opening = plan.contact, plan.slip_reserve, plan.opening_load
    if contact is not None:
        yield Row(
            "contact.force",
            "force on the fracture, sum of the pressures",
            amount(contact.force, "N", 0),
        )
        share = None if contact.share is None else 100 * contact.share
        yield Row("contact.share", "fracture surface pressed", amount(share, "%", 0))
        yield Row("contact.mean", "pressure, mean", amount(contact.mean, "MPa"))
        yield Row("contact.peak", "pressure, peak", amount(contact.peak, "MPa"))
        for part in contact.surfaces if len(contact.surfaces) > 1 else ():
            name = " and ".join(part.fragments) or ", ".join(part.zones)
            share = None if part.share is None else 100 * part.share
            told = amount(share, "%", 0) if part.screws else "no lag screw presses it"
            yield Row("contact.surfaces", f"pressed of {name}", told)
    if reserve is not None and contact is not None:
        yield Row("slip_reserve", "friction over shear", reserve_text(contact, reserve))
    if opening is not None:
        where = f" {opening.where}" if opening.where else ""
        yield Row(
            "opening_load",
            f"factor on the load until it opens further or slides{where}",
            _opening(opening),
        )
    for name, harm, less in () if plan.placement is None else hand_rows(plan.placement):
        yield Row("placement", f"by hand, {name}: harm", harm)
        yield Row("placement", f"by hand, {name}: less than planned", less)


def _opening(opening: OpeningRecord) -> str:
    if opening.unknown:
        return f"cannot be told: {opening.unknown}"
    if opening.low is None:
        return "endless"
    least = "" if opening.least is None else f"; {opening.least:.2f} at the least preload"
    return f"{times_text(opening.low, opening.high, 2)}{least}"


def _measure(value: float | None, unit: str) -> str:
    """Three figures or so, without trailing zeros; a dash where there is nothing."""
    if value is None:
        return "\N{EN DASH}"
    text = f"{value:.0f}" if abs(value) >= 100 else f"{value:.2f}".rstrip("0").rstrip(".")
    return f"{'0' if text == '-0' else text} {unit}".rstrip()
