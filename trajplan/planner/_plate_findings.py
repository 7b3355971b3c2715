"""Every rule on the plates of a plan and on their screws."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import joined
from trajplan.bone import point_distance
from trajplan.checks import (
    Verdict,
    antiglide_hole,
    buttress_push,
    buttress_reach,
    eccentric_screws,
    growth_plate_distance,
    hole_cone,
    hole_over_fracture,
    joint_given,
    off_its_line,
    pairs_of,
    plate_bend,
    plate_clear,
    plate_cuts,
    plate_fit,
    plate_meets_screw,
    plate_on_bone,
    screw_gap,
    screws_each_side,
    screws_wanted,
    side_open,
)
from trajplan.planner._plate_fit import body_gap
from trajplan.planner._plate_places import plate_rulings
from trajplan.planner._plate_starts import off_place
from trajplan.plate import reach_past, underside
from trajplan.trajectory import dimensions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.checks import Finding
    from trajplan.planner._plates import PlannedPlate
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["judged_plate", "side_counts"]


def judged_plate(
    setup: Setup, plate: PlannedPlate, lag: Trajectories, ids: Sequence[str]
) -> PlannedPlate:
    """Judge a plate, its screws, and how it gets on with the lag screws of a plan.

    Parameters
    ----------
    setup : Setup
        The case.
    plate : PlannedPlate
        The plate.
    lag : Trajectories
        The plan's lag screws.
    ids : sequence of str
        Their names.

    Returns
    -------
    PlannedPlate
        With its findings.
    """
    own = plate.own
    each: dict[str, list[Finding]] = {name: [] for name in own}
    for ruling in plate_rulings(setup, plate.wish, plate.screws, measure=True):
        for finding in ruling.findings(own):
            each[finding.subject].append(finding)
    for name, cone in zip(own, plate.screws.cone.tolist(), strict=True):
        if cone != 0.0:
            each[name].append(hole_cone(name, cone))
    return replace(
        plate,
        findings=(*_of_the_plate(setup, plate, lag, ids), *_pairs(setup, plate, lag, ids)),
        screw_findings=tuple(tuple(each[name]) for name in own),
    )


def side_counts(plate: PlannedPlate) -> tuple[int, int]:
    """Screws through both walls on either side of the fracture.

    Parameters
    ----------
    plate : PlannedPlate
        The plate.

    Returns
    -------
    first, last : int
        At the plate's first end and at its last.
    """
    both = plate.screws.screws.bicortical
    side = plate.side[plate.screws.hole]
    return int((both & (side < 0)).sum()), int((both & (side > 0)).sum())


def _of_the_plate(
    setup: Setup, plate: PlannedPlate, lag: Trajectories, ids: Sequence[str]
) -> list[Finding]:
    limits, laid, name = setup.limits, plate.laid, plate.id
    wanted = screws_wanted(plate.wish.region, limits)
    counts, where = side_counts(plate), plate.names
    sides: tuple[int, ...] = (0, 1)
    if plate.work.work == "buttress":  # the fragment itself is held by what pushes it
        sides = (0,) if plate.shaft < 0 else (1,)
    found = [screws_each_side(name, counts[s], wanted, where[s]) for s in sides]
    gap = laid.hole_gap[0][plate.screws.hole]
    found += [
        plate_fit(name, gap, limits),
        plate_bend(name, laid.flatwise[0], laid.plate.bend_most, limits),
        plate_cuts(name, float(laid.depth[0])),
        plate_on_bone(name, float(laid.beside[0])),
    ]
    half = laid.plate.hole.thread[-1] / 2.0
    pressed = plate.work.work == "protect" and bool(lag.crossing.inside.any())
    found += [
        hole_over_fracture(
            f"{name}, hole {hole + 1}",
            float(plate.along[hole]),
            half,
            filled=plate.ids[hole] is not None,
            pressed=pressed,
        )
        for hole in np.flatnonzero(plate.side == 0)
    ]
    body = body_gap(laid, lag)[0]
    found += [
        plate_meets_screw(f"{name} + {one}", float(off))
        for one, off in zip(ids, body, strict=True)
        if one not in plate.lag
    ]
    found += _of_its_place(setup, plate)
    if setup.around.approach is None and not plate.wish.own_side and not plate.wish.placed:
        found.append(side_open(name))
    if plate.travel is not None:
        number = plate.uses.count("eccentric")
        found.append(eccentric_screws(name, number, plate.travel.left, limits))
    return found


def _of_its_place(setup: Setup, plate: PlannedPlate) -> list[Finding]:
    """Where it lies to the fracture's apex, to joints, growth plates and a place that was given."""
    limits, laid, name = setup.limits, plate.laid, plate.id
    found: list[Finding] = []
    if plate.work.work == "buttress":
        near = np.abs(plate.along[plate.side == plate.shaft]).min(initial=np.inf)
        rim = float(near) - laid.plate.hole.thread[-1] / 2.0
        found.append(antiglide_hole(name, rim if np.isfinite(rim) else np.nan, limits))
        past = reach_past(laid.strip, plate.side, plate.along, plate.shaft)
        found.append(buttress_reach(name, past, laid.plate.spacing))
        if plate.forces is not None:
            bears, need = (
                np.nan if one is None else float(one.estimate[0])
                for one in (plate.forces.bears, plate.forces.buttress)
            )
            found.append(buttress_push(name, bears, need, plate.forces.spring_most))
    told = joint_given(plate.screws.screws, setup.around, name)
    found += [told] if told is not None else []
    under = underside(laid.strip, laid.shape)[0].reshape(-1, 3)
    for obstacle in setup.around.obstacles:
        off = float(point_distance(obstacle.distance, under).min())
        if obstacle.role == "joint":
            found.append(plate_clear(name, obstacle.label, off, obstacle.clearance))
        elif obstacle.name == plate.wish.growth_plate:
            ends = laid.shape.points[0, [0, -1]]
            off = float(point_distance(obstacle.distance, ends).min())
            found.append(growth_plate_distance(name, off, limits))
    if plate.wish.placed:
        found.append(off_its_line(name, float(off_place(plate.wish, laid)[0])))
    return found


def _pairs(
    setup: Setup, plate: PlannedPlate, lag: Trajectories, ids: Sequence[str]
) -> list[Finding]:
    """Its screws against one another and the lag screws: the nearest pair, and all amiss."""
    own = plate.own
    kinds = [*plate.screws.dims.kinds, *lag.dims.kinds]
    mine = _with_kinds(plate.screws.screws, kinds, 0)
    theirs = _with_kinds(lag, kinds, len(plate.screws.dims.kinds))
    every = joined(mine, theirs)
    names = [*own, *ids]
    first, second = np.triu_indices(len(names), k=1)
    ours = first < len(own)  # pairs of lag screws are judged with the plan
    first, second = first[ours], second[ours]
    ruling = screw_gap(pairs_of(every, first, second), setup.limits)
    found = ruling.findings(
        [f"{names[a]} + {names[b]}" for a, b in zip(first, second, strict=True)]
    )
    near = min(found, key=_apart, default=None)
    return [one for one in found if one.verdict is not Verdict.PASS or one is near]


def _apart(finding: Finding) -> float:
    return np.inf if finding.measured is None else finding.measured


def _with_kinds(screws: Trajectories, kinds: Sequence, shift: int) -> Trajectories:  # type: ignore[type-arg]
    return replace(screws, dims=dimensions(kinds, screws.dims.kind + shift))
