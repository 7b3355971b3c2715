"""Screw to screw, and what a single screw cannot do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Ruling, Verdict, grade
from trajplan.geometry import segment_segment_distance

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = [
    "Cylinders",
    "Pairs",
    "cylinders",
    "holds_rotation",
    "pair_gap",
    "pairs_of",
    "screw_gap",
    "screw_spacing",
    "shaft_gap",
]

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
    return _apart(parts, first, second)[1]


def shaft_gap(parts: Cylinders, first: Ints, second: Ints) -> Floats:
    """Least gap between the shafts of two screws, their heads left out.

    Parameters
    ----------
    parts : Cylinders
        Shafts and heads of ``n`` screws, as from `cylinders`.
    first, second : (p,) int arrays
        Rows of the pairs.

    Returns
    -------
    (p,) float array, mm
        Negative where two shafts run through each other in the bone, where nobody sees it.
    """
    radius = parts[0][2]
    gap: Floats = _apart(parts, first, second)[0] - radius[first] - radius[second]
    return gap


def _apart(parts: Cylinders, first: Ints, second: Ints) -> tuple[Floats, Floats]:
    """Least distance of the centre lines of two shafts, and of all that is round them."""
    lines = [
        segment_segment_distance(a[0][first], a[1][first], b[0][second], b[1][second])
        for a in parts
        for b in parts
    ]
    radii = [a[2][first] + b[2][second] for a in parts for b in parts]
    least: Floats = np.minimum.reduce(
        [line - both for line, both in zip(lines, radii, strict=True)]
    )
    return lines[0], least


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Pairs of screws, and how far apart they are; build them with `pairs_of`."""

    screws: Trajectories
    first: Ints  # (p,) rows of the screws
    second: Ints  # (p,)
    lines: Floats  # (p,) mm between the centre lines of the shafts
    gap: Floats  # (p,) mm between surfaces, heads included; negative where they overlap

    @property
    def hit(self) -> Bools:
        """Whether both screws meet the bone, (p,)."""
        hit = self.screws.corridors.hit
        both: Bools = hit[self.first] & hit[self.second]
        return both


def pairs_of(screws: Trajectories, first: Ints, second: Ints) -> Pairs:
    """Measure pairs of screws.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    first, second : (p,) int arrays
        Rows of the pairs.

    Returns
    -------
    Pairs
    """
    return Pairs(screws, first, second, *_apart(cylinders(screws), first, second))


def screw_gap(pairs: Pairs, limits: Limits) -> Ruling:
    """Fail pairs of screws that meet, heads included.

    Parameters
    ----------
    pairs : Pairs
        ``p`` pairs of screws.
    limits : Limits
        ``screw_gap``, mm.

    Returns
    -------
    Ruling
        One row a pair; measures mm between the surfaces, negative where they overlap.
    """
    verdict, limit = grade(pairs.gap, fail_below=limits.screw_gap, applies=pairs.hit)
    return Ruling(
        rule="screw_gap",
        verdict=verdict,
        measured=pairs.gap,
        limit=limit,
        unit="mm",
        source="geometry; limit: assumption",
        sentences={
            Verdict.PASS: "The screws stay {measured} apart, heads included.",
            Verdict.FAIL: "The screws come too near: the gap between them is {measured}, {limit} "
            "is the least.",
            Verdict.UNKNOWN: "The gap between the screws cannot be told.",
        },
        below={
            Verdict.FAIL: "The screws meet: they overlap by {measured}, {limit} between them is "
            "the least."
        },
    )


def screw_spacing(pairs: Pairs, limits: Limits) -> Ruling:
    """Caution pairs of screws that stand too close together.

    Parameters
    ----------
    pairs : Pairs
        ``p`` pairs of screws.
    limits : Limits
        ``screw_spacing``, in thread diameters (the mean of the two).

    Returns
    -------
    Ruling
        One row a pair; measures mm between the centre lines.
    """
    diameter = pairs.screws.dims.thread
    thread = (diameter[pairs.first] + diameter[pairs.second]) / 2.0
    verdict, limit = grade(
        pairs.lines, caution_below=limits.screw_spacing * thread, applies=pairs.hit
    )
    return Ruling(
        rule="screw_spacing",
        verdict=verdict,
        measured=pairs.lines,
        limit=limit,
        unit="mm",
        source="AO Foundation, online surgery reference, lag screw fixation (small animal)",
        sentences={
            Verdict.PASS: "The centre lines of the screws stay {measured} apart.",
            Verdict.CAUTION: "The centre lines of the screws come within {measured} of each other; "
            "{limit} is taught. Decide whether fewer or thinner screws do better.",
            Verdict.UNKNOWN: "The distance of the screws cannot be told.",
        },
    )


def holds_rotation(count: int, *, protection: str = "none") -> Finding:
    """Caution a plan of fewer than two screws, which does not stop rotation.

    Parameters
    ----------
    count : int
        Screws in the plan that cross the fracture inside the bone.
    protection : str
        What protects the screws, as the case says; a plate stops rotation too.

    Returns
    -------
    Finding
        For the plan as a whole.
    """
    enough, plated = count >= 2, protection in ("plate", "buttress")
    screws = f"{count} screw{'s' * (count != 1)}"
    if enough:
        why = f"{count} screws hold the fragments against turning."
    elif plated:
        why = f"{screws} would not stop turning: the plate that the case names must."
    else:
        why = (
            f"{screws} cross{'es' * (count == 1)} some fracture, and 2 stop turning. Decide on "
            "another screw, or on a plate."
        )
    return Finding(
        rule="holds_rotation",
        subject="plan",
        verdict=Verdict.PASS if enough or plated else Verdict.CAUTION,
        measured=float(count),
        limit=2.0,
        unit="screws",
        why=why,
        source="common practice",
    )
