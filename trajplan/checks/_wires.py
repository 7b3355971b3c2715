"""Rules for provisional wires."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import segment_distance
from trajplan.checks._spacing import cylinders
from trajplan.checks._types import Ruling, Verdict, grade
from trajplan.geometry import segment_segment_distance

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3s
    from trajplan.checks._clearance import Obstacle
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories, WirePaths

__all__ = ["wire_clear", "wire_clearance", "wire_hold", "wire_path", "wire_tilt"]


def wire_path(wires: WirePaths, limits: Limits) -> tuple[Vec3s, Vec3s]:
    """Both ends of each wire, from where it stands out at the drill to its tip.

    Parameters
    ----------
    wires : WirePaths
        ``n`` wires.
    limits : Limits
        ``guide_length``: how far a wire stands out of the bone.

    Returns
    -------
    start, end : (n, 3) float arrays, mm
    """
    axes, n = wires.corridors.axes, len(wires)
    return axes.at(np.full(n, -limits.guide_length)), axes.at(wires.corridors.exit)


def wire_tilt(wires: WirePaths, limits: Limits) -> Ruling:
    """Judge how square a wire crosses the fracture.

    Parameters
    ----------
    wires : WirePaths
        ``n`` wires.
    limits : Limits
        ``wire_tilt``, degrees, is noted past it: a wire holds but for the moment.

    Returns
    -------
    Ruling
        Measures degrees off the fracture normal.
    """
    verdict, limit = grade(
        np.where(wires.crossing.inside, wires.crossing.tilt, np.nan),
        note_above=limits.wire_tilt,
        applies=wires.corridors.hit,
    )
    return Ruling(
        rule="wire_tilt",
        verdict=verdict,
        measured=wires.crossing.tilt,
        limit=limit,
        unit="degrees",
        source="common practice; limit: assumption",
        sentences={
            Verdict.PASS: "The wire crosses the fracture {measured} off a right angle.",
            Verdict.NOTE: "The wire crosses the fracture {measured} off a right angle (past "
            "{limit}).",
            Verdict.UNKNOWN: "The wire does not cross the fracture inside the bone.",
        },
    )


def wire_hold(wires: WirePaths, limits: Limits) -> Ruling:
    """Fail a wire that does not hold in both fragments.

    Parameters
    ----------
    wires : WirePaths
        ``n`` wires.
    limits : Limits
        ``wire_hold``, mm of bone on each side of the fracture.

    Returns
    -------
    Ruling
        Measures the lesser of the two.
    """
    hold = np.where(wires.crossing.inside, np.minimum(wires.near, wires.far), 0.0)
    verdict, limit = grade(hold, fail_below=limits.wire_hold, applies=wires.corridors.hit)
    return Ruling(
        rule="wire_hold",
        verdict=verdict,
        measured=hold,
        limit=limit,
        unit="mm",
        source="assumption",
        sentences={
            Verdict.PASS: "The wire holds by {measured} of bone on the weaker side.",
            Verdict.FAIL: "The wire holds by only {measured} of bone on the weaker side; {limit} "
            "is the least.",
        },
    )


def wire_clear(wires: WirePaths, screws: Trajectories, limits: Limits) -> Ruling:
    """Fail a wire in the way of a screw, of its head, or of its drill guide.

    Parameters
    ----------
    wires : WirePaths
        ``n`` wires, taken as they stand out of the bone.
    screws : Trajectories
        Screws of the plan.
    limits : Limits
        ``screw_gap`` between surfaces; ``guide_diameter`` and ``guide_length`` of the guide.

    Returns
    -------
    Ruling
        Measures mm between the surfaces, negative where they overlap.
    """
    start, end = wire_path(wires, limits)
    axes, n = screws.corridors.axes, len(screws)
    outside = axes.at(np.full(n, -limits.guide_length))
    guide = (outside, axes.origin, np.full(n, limits.guide_diameter / 2.0))
    gap = np.full(len(wires), np.inf)
    for first, last, radius in (*cylinders(screws), guide):
        apart = segment_segment_distance(start[:, None], end[:, None], first, last) - radius
        gap = np.minimum(gap, np.minimum.reduce(apart, axis=1, initial=np.inf))
    gap = gap - wires.diameter / 2.0
    verdict, limit = grade(gap, fail_below=limits.screw_gap, applies=wires.corridors.hit)
    return Ruling(
        rule="wire_clear",
        verdict=verdict,
        measured=gap,
        limit=limit,
        unit="mm",
        source="common practice; limit: assumption",
        sentences={
            Verdict.PASS: "The wire stays {measured} clear of every screw and its drill.",
            Verdict.FAIL: "The wire is in the way of a screw or its drill: {measured} between "
            "them, {limit} is the least.",
            Verdict.UNKNOWN: "The distance to the screws cannot be told.",
        },
        below={
            Verdict.FAIL: "The wire runs into a screw or its drill: they overlap by {measured}, "
            "{limit} between them is the least."
        },
    )


def wire_clearance(wires: WirePaths, obstacle: Obstacle, limits: Limits) -> Ruling:
    """Fail a wire that comes too near to a joint surface or a structure.

    Parameters
    ----------
    wires : WirePaths
        ``n`` wires, taken as they stand out of the bone.
    obstacle : Obstacle
        The surface and the clearance that it asks for.
    limits : Limits
        ``guide_length``: how far a wire stands out.

    Returns
    -------
    Ruling
        Measures mm from the wire's surface; exact.
    """
    gap: Floats = np.full(len(wires), np.nan)
    rows = np.flatnonzero(wires.corridors.hit)
    start, end = wire_path(wires, limits)
    gap[rows] = segment_distance(obstacle.distance, start[rows], end[rows])
    gap -= wires.diameter / 2.0
    verdict, limit = grade(gap, fail_below=obstacle.clearance, applies=wires.corridors.hit)
    name = obstacle.label
    return Ruling(
        rule=f"{obstacle.role}_clearance",
        verdict=verdict,
        measured=gap,
        limit=limit,
        unit="mm",
        source="the case",
        sentences={
            Verdict.PASS: f"The wire stays {{measured}} clear of {name}.",
            Verdict.FAIL: f"The wire comes within {{measured}} of {name}; {{limit}} must be kept.",
            Verdict.UNKNOWN: f"The distance to {name} cannot be told.",
        },
        below={
            Verdict.FAIL: f"The wire cuts {{measured}} into {name}; {{limit}} must be kept clear."
        },
    )
