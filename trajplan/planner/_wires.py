"""Provisional wires: placed after the screws, out of their way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import (
    Finding,
    Verdict,
    approach,
    beside_holes,
    doubts_of,
    drill_access,
    guide_way,
    in_doubt,
    parallel_to_joint,
    wire_clear,
    wire_clearance,
    wire_hold,
    wire_path,
    wire_tilt,
)
from trajplan.fracture import nearest_zone
from trajplan.geometry import segment_segment_distance
from trajplan.implants import find_wire
from trajplan.planner._assess import failing
from trajplan.planner._candidates import candidates
from trajplan.planner._choose import best_set, pool
from trajplan.trajectory import Axes, plan_wires

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.checks import Ruling
    from trajplan.files import WireRecord
    from trajplan.implants import Wire
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories, WirePaths

__all__ = ["Wires", "keep_wires", "place_wires"]

#: Candidate wires.
CANDIDATES = 800
#: Least gap between two wires, mm (assumption).
WIRE_GAP = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Wires:
    """Wires chosen for a plan, with their findings."""

    ids: tuple[str, ...]
    kinds: tuple[Wire, ...]  # of each wire
    paths: WirePaths
    findings: tuple[tuple[Finding, ...], ...]  # of each wire
    notes: tuple[Finding, ...]  # on the choice itself


def place_wires(setup: Setup, screws: Trajectories) -> Wires | None:
    """Place the wires that a case asks for round the screws of its plan.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        The screws of the plan.

    Returns
    -------
    Wires or None
        None where the case asks for none.
    """
    wanted = setup.case.wires
    if wanted.count == 0:
        return None
    found = candidates(
        setup.around.zones,
        kinds=len(setup.wires),
        count=CANDIDATES,
        max_tilt=setup.limits.wire_tilt,
        plane=setup.wires_along,
    )
    paths = _paths(setup, found.axes, found.kind, found.zone)
    rulings = _rulings(setup, paths, screws)
    kept = np.flatnonzero(~failing(rulings, len(paths)) & paths.crossing.inside)
    score = _scores(setup, paths, rulings)[kept]
    rows = kept[pool(score, found.place[kept], wanted.count)]
    chosen = _choose(setup, found.axes.take(rows), rows, paths, score[np.searchsorted(kept, rows)])
    best = rows[chosen]
    final = _paths(setup, found.axes.take(best), found.kind[best], found.zone[best])
    ids = tuple(f"wire {i + 1}" for i in range(len(best)))
    kinds = tuple(setup.wires[int(kind)] for kind in found.kind[best])
    notes = () if len(best) == wanted.count else (_shortfall(wanted.count, len(best)),)
    return _judged(setup, final, ids, kinds, screws, notes)


def keep_wires(setup: Setup, records: Sequence[WireRecord], screws: Trajectories) -> Wires:
    """Judge wires where they lie against screws that may have moved.

    Parameters
    ----------
    setup : Setup
        The case.
    records : sequence of WireRecord
        The wires of a plan.
    screws : Trajectories
        The screws.

    Returns
    -------
    Wires

    Raises
    ------
    CatalogueError
        If a wire is of a kind that the catalogue lacks.
    """
    kinds = tuple(find_wire(setup.catalogue, record.kind) for record in records)
    axes = Axes.along([r.entry for r in records], [r.direction for r in records])
    zones = setup.around.zones
    zone = nearest_zone(setup.bone, zones, axes.origin, axes.direction)
    diameter = np.array([wire.diameter for wire in kinds], dtype=np.float64)
    paths = plan_wires(setup.bone, axes, diameter, zones, zone)
    return _judged(setup, paths, tuple(r.id for r in records), kinds, screws, ())


def _judged(
    setup: Setup,
    paths: WirePaths,
    ids: tuple[str, ...],
    kinds: tuple[Wire, ...],
    screws: Trajectories,
    notes: tuple[Finding, ...],
) -> Wires:
    answers = _rulings(setup, paths, screws)
    each = {
        name: [f for r in answers for f in r.findings(ids) if f.subject == name] for name in ids
    }
    return Wires(
        ids=ids,
        kinds=kinds,
        paths=paths,
        findings=tuple(tuple(each[name]) for name in ids),
        notes=notes,
    )


def _paths(setup: Setup, axes: Axes, kind: Ints, zone: Ints) -> WirePaths:
    diameter = np.array([wire.diameter for wire in setup.wires], dtype=np.float64)[kind]
    return plan_wires(setup.bone, axes, diameter, setup.around.zones, zone)


def _rulings(setup: Setup, paths: WirePaths, screws: Trajectories) -> list[Ruling]:
    limits = setup.limits
    plane, side = setup.wires_along, setup.around.approach
    rulings = [
        wire_tilt(paths, limits),
        wire_hold(paths, limits),
        wire_clear(paths, screws, limits),
        *(
            beside_holes(lambda it: wire_clearance(paths, it, limits), obstacle)
            for obstacle in setup.around.obstacles
        ),
        drill_access(paths, limits, setup.around.bone),
        *(
            beside_holes(lambda it: guide_way(paths, limits, it), obstacle)
            for obstacle in setup.around.obstacles
        ),
    ]
    if side is not None:
        rulings.append(approach(paths, side))
    if plane is not None:
        corridors = paths.corridors
        rulings.append(parallel_to_joint(corridors.axes.direction, corridors.hit, plane, limits))
    return in_doubt(rulings, doubts_of(paths))


def _scores(setup: Setup, paths: WirePaths, rulings: list[Ruling]) -> Floats:
    """Squareness to fracture and surface, hold, and how parallel to the joint; 0 to 1."""
    limits = setup.limits
    shares = [
        1.0 - paths.crossing.tilt / limits.wire_tilt,
        1.0 - paths.entry_angle / limits.entry_angle_most,
        np.minimum(paths.near, paths.far) / (3.0 * limits.wire_hold),
    ]
    shares += [
        1.0 - ruling.measured / (2.0 * limits.parallel)
        for ruling in rulings
        if ruling.rule == "parallel_to_joint"
    ]
    score: Floats = np.mean(
        [np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0) for share in shares], axis=0
    )
    return score


def _choose(setup: Setup, axes: Axes, rows: Ints, paths: WirePaths, score: Floats) -> Ints:
    """Best compatible set of the size wanted, or of the largest size that exists."""
    start, end = (side[rows] for side in wire_path(paths, setup.limits))
    apart = segment_segment_distance(start[:, None], end[:, None], start, end)
    crossing = axes.origin
    spread = np.linalg.norm(crossing[:, None] - crossing, axis=2)
    length = max(float(zone.fit.extents[0]) for zone in setup.around.zones)
    pair = np.where(apart < WIRE_GAP, -np.inf, np.clip(2.0 * spread / max(length, 1e-9), 0.0, 1.0))
    for size in range(min(setup.case.wires.count, len(rows)), 0, -1):
        chosen, _ = best_set(score, pair, size)
        if len(chosen):
            return chosen
    return np.array([], dtype=np.int64)


def _shortfall(wanted: int, placed: int) -> Finding:
    """Caution fewer wires than the case asks for."""
    return Finding(
        rule="wire_count",
        subject="plan",
        verdict=Verdict.CAUTION,
        measured=float(placed),
        limit=float(wanted),
        unit="wires",
        why=f"{placed} of {wanted} wires could be placed clear of every screw and its drill. "
        "Decide what holds the fragments until the screws are in.",
        source="the case",
    )
