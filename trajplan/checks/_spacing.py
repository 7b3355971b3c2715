"""Screw to screw, and what a single screw cannot do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Ruling, Verdict, grade
from trajplan.geometry import segment_segment_distance

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = ["Cylinders", "cylinders", "holds_rotation", "pair_gap", "screw_gap", "screw_spacing"]

#: Ends of the shaft and of the head of a screw, and their radii.
Cylinders = tuple[tuple["Vec3s", "Vec3s", "Floats"], tuple["Vec3s", "Vec3s", "Floats"]]


def cylinders(screws: Trajectories) -> Cylinders:
    """Shaft and head of each screw as round-ended cylinders.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    shaft, head : tuples of (n, 3), (n, 3), (n,) float arrays, mm
        Start, end and radius. NaN where a screw misses the bone.
    """
    axes = screws.corridors.axes
    seat, tip = axes.at(screws.seats.seat), axes.at(screws.tip)
    top = axes.at(screws.seats.seat - screws.dims.head_height)
    return (seat, tip, screws.dims.thread / 2.0), (top, seat, screws.dims.head / 2.0)


def pair_gap(parts: Cylinders, first: Ints, second: Ints) -> Floats:
    """Least gap between the surfaces of two screws, over shafts and heads.

    Parameters
    ----------
    parts : Cylinders
        Shafts and heads of ``n`` screws, as from `cylinders`.
    first, second : (p,) int arrays
        Rows of the pairs.

    Returns
    -------
    (p,) float array, mm
        Negative where two screws overlap.
    """
    gaps = [
        segment_segment_distance(a[0][first], a[1][first], b[0][second], b[1][second])
        - a[2][first]
        - b[2][second]
        for a in parts
        for b in parts
    ]
    least: Floats = np.minimum.reduce(gaps)
    return least


def screw_gap(screws: Trajectories, limits: Limits, first: Ints, second: Ints) -> Ruling:
    """Fail pairs of screws that meet, heads included.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``screw_gap``, mm.
    first, second : (p,) int arrays
        Rows of the pairs.

    Returns
    -------
    Ruling
        One row a pair; measures mm between the surfaces, negative where they overlap.
    """
    gap = pair_gap(cylinders(screws), first, second)
    hit = screws.corridors.hit
    verdict, limit = grade(gap, fail_below=limits.screw_gap, applies=hit[first] & hit[second])
    return Ruling(
        rule="screw_gap",
        verdict=verdict,
        measured=gap,
        limit=limit,
        unit="mm",
        source="geometry; limit: assumption",
        sentences={
            Verdict.PASS: "The screws stay {measured} apart, heads included.",
            Verdict.FAIL: "The screws meet: the gap between them is {measured}, {limit} is the "
            "least.",
            Verdict.UNKNOWN: "The gap between the screws cannot be told.",
        },
    )


def screw_spacing(screws: Trajectories, limits: Limits, first: Ints, second: Ints) -> Ruling:
    """Caution pairs of screws that stand too close together.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``screw_spacing``, in thread diameters (the mean of the two).
    first, second : (p,) int arrays
        Rows of the pairs.

    Returns
    -------
    Ruling
        One row a pair; measures mm between the centre lines.
    """
    shaft, _ = cylinders(screws)
    apart = segment_segment_distance(
        shaft[0][first], shaft[1][first], shaft[0][second], shaft[1][second]
    )
    thread = (screws.dims.thread[first] + screws.dims.thread[second]) / 2.0
    hit = screws.corridors.hit
    verdict, limit = grade(
        apart, caution_below=limits.screw_spacing * thread, applies=hit[first] & hit[second]
    )
    return Ruling(
        rule="screw_spacing",
        verdict=verdict,
        measured=apart,
        limit=limit,
        unit="mm",
        source="AO Foundation, online surgery reference, lag screw fixation (small animal)",
        sentences={
            Verdict.PASS: "The centre lines of the screws stay {measured} apart.",
            Verdict.CAUTION: "The centre lines of the screws come within {measured} of each other; "
            "{limit} is taught.",
            Verdict.UNKNOWN: "The distance of the screws cannot be told.",
        },
    )


def holds_rotation(count: int) -> Finding:
    """Caution a plan of fewer than two screws, which does not stop rotation.

    Parameters
    ----------
    count : int
        Screws in the plan that cross the fracture inside the bone.

    Returns
    -------
    Finding
        For the plan as a whole.
    """
    enough = count >= 2
    return Finding(
        rule="holds_rotation",
        subject="plan",
        verdict=Verdict.PASS if enough else Verdict.CAUTION,
        measured=float(count),
        limit=2.0,
        unit="screws",
        why=f"{count} screws hold the fragments against turning."
        if enough
        else "Fewer than two screws cross some fracture: its fragments can still turn.",
        source="common practice",
    )
