"""Turn one screw of an assessment into its file record."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from trajplan.files import (
    AsItLiesRecord,
    CortexRecord,
    CountersinkRecord,
    DepthRecord,
    FindingRecord,
    HoleRecord,
    ScrewRecord,
    StretchRecord,
)
from trajplan.planner._outlook_record import screw_outlook
from trajplan.planner._reduced import as_it_lies
from trajplan.trajectory import Basis, Technique

if TYPE_CHECKING:
    from trajplan.checks import Finding
    from trajplan.planner._assess import Assessment
    from trajplan.planner._outlook import Outlook
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import BasisWord, Corridors, Trajectories

__all__ = ["finding_record", "screw_record", "stretches"]


def screw_record(
    answer: Assessment,
    i: int,
    setup: Setup,
    *,
    score: float,
    view: Outlook | None = None,
    reason: str = "",
) -> ScrewRecord:
    """Turn one screw into the record that a plan file holds.

    Parameters
    ----------
    answer : Assessment
        Screws and findings.
    i : int
        Row of the screw.
    setup : Setup
        The case.
    score : float
        The planner's score; NaN where there is none.
    view : Outlook, optional
        Forces and placement error, where they were worked out.
    reason : str
        Why it was chosen.

    Returns
    -------
    ScrewRecord
        Measures are null where the axis misses the bone.
    """
    screws = answer.screws
    kind = screws.dims.kinds[int(screws.dims.kind[i])]
    technique = Technique(int(screws.technique[i]))
    record: dict[str, object] = {
        "id": answer.ids[i],
        "kind": kind.kind,
        "technique": technique.word,
        "direction": tuple(screws.corridors.axes.direction[i].tolist()),
        "findings": tuple(finding_record(finding) for finding in answer.findings[i]),
        "score": score,
        "reason": reason,
    }
    if screws.corridors.hit[i]:
        zone = setup.around.zones[int(screws.crossing.zone[i])]
        record |= {
            "hold": "bicortical" if screws.bicortical[i] else "unicortical",
            "zone": zone.id if screws.crossing.inside[i] else None,
            "washer": kind.washer if screws.washered[i] else None,
        }
        record["as_it_lies"] = _as_it_lies(screws.corridors, i, setup)
        record["fragments"] = _fragments(screws.corridors, i, setup.fragment_names)
        record |= _corridor(screws, i) | _screw(screws, i) | _holes(screws, i, technique)
        if view is not None:
            record |= screw_outlook(view, i, answer.ids[i])
    return ScrewRecord.model_validate(record)


def finding_record(finding: Finding) -> FindingRecord:
    """Turn a finding into its record.

    Parameters
    ----------
    finding : Finding
        The finding.

    Returns
    -------
    FindingRecord
    """
    return FindingRecord(
        rule=finding.rule,
        subject=finding.subject,
        verdict=finding.verdict.word,
        measured=finding.measured,
        limit=finding.limit,
        unit=finding.unit,
        why=finding.why,
        source=finding.source,
    )


def _as_it_lies(corridors: Corridors, i: int, setup: Setup) -> AsItLiesRecord | None:
    """The screw's line on the fragment that it enters, before that was moved."""
    solid, line = corridors.solid, i * (corridors.ring + 1)
    row = slice(int(solid.offsets[line]), int(solid.offsets[line + 1]))
    first = int(solid.body[row][solid.end[row] > 0.0][0])
    fragment = 0 if setup.reduction is None else setup.fragment_of(first)
    axes = corridors.axes
    return as_it_lies(setup.reduction, fragment, axes.origin[i], axes.direction[i])


def _fragments(corridors: Corridors, i: int, names: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the bodies that an axis passes from its entry on, in order."""
    if len(names) == 1:
        return ()
    solid, line = corridors.solid, i * (corridors.ring + 1)
    row = slice(int(solid.offsets[line]), int(solid.offsets[line + 1]))
    ahead = solid.end[row] > 0.0
    return tuple(dict.fromkeys(names[int(body)] for body in solid.body[row][ahead]))


def _corridor(screws: Trajectories, i: int) -> dict[str, object]:
    corridors, walls = screws.corridors, screws.walls
    axes = corridors.axes
    known, unknown = stretches(corridors, i)
    basis = Basis(int(walls.basis[i])).word
    return {
        "entry": axes.origin[i],
        "exit": axes.origin[i] + corridors.exit[i] * axes.direction[i],
        "intervals": known,
        "unknown_intervals": unknown,
        "leaves_bone": bool(corridors.leaves[i]),
        "near_cortex": _cortex(walls.near[i], walls.near_spread[i], basis),
        "far_cortex": _cortex(walls.far[i], walls.far_spread[i], basis),
    }


def _cortex(thickness: float, spread: float, basis: BasisWord) -> CortexRecord:
    known = float(spread) if basis == "measured" else None
    return CortexRecord(thickness=float(thickness), basis=basis, spread=known)


def stretches(
    corridors: Corridors, i: int
) -> tuple[tuple[tuple[float, float], ...], tuple[tuple[float, float], ...]]:
    """Stretches of an axis in bone from its entry on, and those that cannot be told.

    Parameters
    ----------
    corridors : Corridors
        Axes as cast.
    i : int
        Row of the axis.

    Returns
    -------
    known, unknown : tuples of pairs of float, mm
    """
    solid, line = corridors.solid, i * (corridors.ring + 1)
    row = slice(int(solid.offsets[line]), int(solid.offsets[line + 1]))
    found = [
        (float(start), float(end), bool(known))
        for start, end, known in zip(
            solid.start[row], solid.end[row], solid.known[row], strict=True
        )
        if end > 0.0
    ]
    return (
        tuple((start, end) for start, end, known in found if known),
        tuple((start, end) for start, end, known in found if not known),
    )


def _screw(screws: Trajectories, i: int) -> dict[str, object]:
    crossing, seats = screws.crossing, screws.seats
    depth = None
    if crossing.inside[i]:
        depth = DepthRecord(
            min=float(crossing.shallow[i]),
            axis=float(crossing.axis[i]),
            max=float(crossing.deep[i]),
        )
    thread, partial = None, screws.technique[i] == Technique.PARTIAL
    if np.isfinite(screws.thread_from[i]) and np.isfinite(screws.tip[i]):
        thread = StretchRecord(start=float(screws.thread_from[i]), end=float(screws.tip[i]))
    return {
        "fracture_depth": depth,
        "seat": seats.seat[i],
        "rim_contact": seats.rim_contact[i],
        "entry_angle": screws.entry_angle[i],
        "gauge": screws.gauge[i],
        "length": screws.length[i],
        "proud_tip": screws.proud[i],
        "thread": thread,
        "thread_length": thread.end - thread.start if thread and partial else None,
        "purchase": screws.purchase[i],
        "thread_turns": screws.turns[i],
        "tilt": crossing.tilt[i],
    }


def _holes(screws: Trajectories, i: int, technique: Technique) -> dict[str, object]:
    holes, seats = screws.holes, screws.seats
    wide = _hole(holes.gliding[i], 0.0, holes.gliding_to[i])
    sunk = float(seats.countersink[i])
    countersink = None
    if sunk > 0.0 and np.isfinite(screws.dims.countersink[i]):
        countersink = CountersinkRecord(diameter=float(screws.dims.countersink[i]), depth=sunk)
    return {
        "gliding_hole": wide if technique is Technique.GLIDING else None,
        "shank_hole": wide if technique is Technique.PARTIAL else None,
        "thread_hole": _hole(holes.thread[i], holes.thread_from[i], holes.thread_to[i]),
        "tap": _hole(holes.tap[i], holes.tap_from[i], holes.tap_to[i]),
        "countersink": countersink,
    }


def _hole(diameter: float, start: float, end: float) -> HoleRecord | None:
    if not (isfinite(diameter) and isfinite(start) and isfinite(end)):
        return None
    return HoleRecord(diameter=float(diameter), start=float(start), end=float(end))
