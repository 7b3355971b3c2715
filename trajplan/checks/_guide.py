"""Whether the drill guide has a free way to the entry: clear of bone, and of what must be kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import nearer_than, outer_spans, segment_distance
from trajplan.checks._types import LIMIT_SLACK, Ruling, Verdict, grade
from trajplan.geometry import segment_triangle_distance
from trajplan.trajectory import bundle

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.bone import Bone
    from trajplan.checks._clearance import Obstacle
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Axes, Trajectories, WirePaths

__all__ = ["drill_access", "guide_way"]

#: Lines on the guide's rim that look for bone in its way.
GUIDE_LINES = 12
#: The guide's rim may meet the bone this much before the axis does on a flat wall of the
#: same slant: bone round the entry bulges. Past that it is another piece of bone.
BULGE = 2.0
#: Degrees; slant of the steepest wall that a guide is set on.
STEEPEST = 75.0


def drill_access(screws: Trajectories | WirePaths, limits: Limits, bone: Bone) -> Ruling:
    """Fail a screw or wire whose drill guide would run into bone on its way to the entry.

    Parameters
    ----------
    screws : Trajectories or WirePaths
        ``n`` screws or wires.
    limits : Limits
        ``guide_diameter`` and ``guide_length``, mm.
    bone : Bone
        The bone.

    Returns
    -------
    Ruling
        Measures mm of free way above the entry over the whole width of the guide.
    """
    free = _free_length(screws, limits, bone)
    verdict, limit = grade(
        free,
        fail_below=limits.guide_length,
        applies=screws.corridors.hit,
        doubt=~screws.corridors.decided,
    )
    return Ruling(
        rule="drill_access",
        verdict=verdict,
        measured=free,
        limit=limit,
        unit="mm",
        source="common practice; length: assumption",
        sentences={
            Verdict.PASS: "The drill guide has {measured} of free way above the entry.",
            Verdict.FAIL: "The drill guide meets bone {measured} above the entry; it needs "
            "{limit} of free way.",
            Verdict.UNKNOWN: "Whether the drill guide is free cannot be told.",
        },
    )


def _free_length(screws: Trajectories | WirePaths, limits: Limits, bone: Bone) -> Floats:
    """Distance from the entry back to the nearest bone in the guide's way, at most its length."""
    slant = np.clip(np.nan_to_num(screws.entry_angle, nan=0.0), 0.0, STEEPEST)
    free = _free_of_bodies(screws, limits, bone, slant)
    left = np.flatnonzero(screws.corridors.hit & (free >= limits.guide_length))
    free[left] = _free_of_flakes(screws.corridors.axes.take(left), limits, bone, slant[left])
    return np.where(screws.corridors.hit, free, np.nan)


def _free_of_bodies(
    screws: Trajectories | WirePaths, limits: Limits, bone: Bone, slant: Floats
) -> Floats:
    """Free length by lines along the guide's axis and rim: right up to where the rim rests."""
    radius = np.full((len(screws), 1), limits.guide_diameter / 2.0)
    origin, direction = bundle(screws.corridors.axes, radius, GUIDE_LINES, with_axis=True)
    outer = outer_spans(bone, origin, direction)
    rests = -(np.tan(np.radians(slant)) * radius[:, 0] + BULGE)  # where the rim may touch
    axis = rows_of(outer.offsets) // (GUIDE_LINES + 1)
    # A piece of bone that begins above the rim's place is in the way; it ends nearest.
    in_way = (outer.start < rests[axis]) & (outer.end > -limits.guide_length)
    top = np.where(outer.end < rests[axis], outer.end, rests[axis])
    nearest = np.full(len(screws), -limits.guide_length)
    np.maximum.at(nearest, axis[in_way], top[in_way])
    return -nearest


def _free_of_flakes(axes: Axes, limits: Limits, bone: Bone, slant: Floats) -> Floats:
    """Free length by exact distances from the guide's axis: no flake slips between lines.

    The guide is taken as a round-ended cylinder that begins past where it rests; the nearest
    corner of a face in its way stands for the face.
    """
    radius = limits.guide_diameter / 2.0
    free = np.full(len(axes), limits.guide_length)
    rests = radius / np.cos(np.radians(slant)) + BULGE
    rows = np.flatnonzero(rests < limits.guide_length - radius)
    some, rests = axes.take(rows), rests[rows]
    lower, upper = some.at(-rests), some.at(np.full(len(rows), radius - limits.guide_length))
    segment, face = bone.caster.beside(lower, upper, np.full(len(rows), radius))
    corners = bone.surface.vertices[bone.surface.faces[face]]
    apart = segment_triangle_distance(lower[segment], upper[segment], corners)
    meets = apart < radius - LIMIT_SLACK
    segment = segment[meets]
    arm = corners[meets] - some.origin[segment, None]
    height = -np.einsum("fij,fj->fi", arm, some.direction[segment]).max(axis=1)
    np.minimum.at(free, rows[segment], np.maximum(height, rests[segment]))
    return free


def guide_way(
    screws: Trajectories | WirePaths, limits: Limits, obstacle: Obstacle, *, measure: bool = True
) -> Ruling:
    """Judge how the drill guide passes an obstacle outside the bone.

    Parameters
    ----------
    screws : Trajectories or WirePaths
        ``n`` screws or wires.
    limits : Limits
        ``guide_diameter`` and ``guide_length``, mm.
    obstacle : Obstacle
        A joint surface, or what must be avoided.
    measure : bool
        Whether the distance is measured, or only decided, which is much faster.

    Returns
    -------
    Ruling
        Measures mm between the guide and the obstacle, exact; negative where it is met, which
        fails. Nearer than its clearance to what must be avoided cautions: there a guide can
        shield what a screw could not be left beside.
    """
    hit = screws.corridors.hit
    gap = np.full(len(screws), np.nan)
    gap[hit] = _guide_gap(screws, limits, obstacle, measure=measure)[hit]
    verdict, limit = grade(
        gap,
        caution_below=obstacle.clearance if obstacle.role == "avoid" else None,
        fail_below=0.0,
        applies=hit,
        doubt=~screws.corridors.decided,
    )
    name = obstacle.label
    return Ruling(
        rule="guide_way",
        verdict=verdict,
        measured=gap if measure else np.full(len(screws), np.nan),
        limit=limit,
        unit="mm",
        source="the case; size of the guide: assumption",
        sentences={
            Verdict.PASS: f"The drill guide stays {{measured}} clear of {name}.",
            Verdict.CAUTION: f"The drill guide passes {name} at {{measured}}, where {{limit}} is "
            "wanted: it must be held aside and shielded.",
            Verdict.FAIL: f"The drill guide overlaps {name} by {{measured}} on its way to the "
            "entry: the bone cannot be drilled along this axis.",
            Verdict.UNKNOWN: f"How the drill guide passes {name} cannot be told: the surface of "
            "the bone is open at the entry.",
        },
    )


def _guide_gap(
    screws: Trajectories | WirePaths, limits: Limits, obstacle: Obstacle, *, measure: bool
) -> Floats:
    """Gap between guide and obstacle, mm; where only decided, a value on its side of each limit.

    The guide ends flat at the entry and at its upper end: it is taken as a round-ended
    cylinder that reaches neither past.
    """
    axes, radius = screws.corridors.axes, limits.guide_diameter / 2.0
    upper = max(limits.guide_length - radius, radius)
    start, end = (axes.at(np.full(len(axes), -depth)) for depth in (upper, radius))
    if measure:
        gap = segment_distance(obstacle.distance, start, end) - radius
        return np.where(obstacle.holds(end), -np.abs(gap), gap)
    near = nearer_than(obstacle.distance, start, end, radius + obstacle.clearance - LIMIT_SLACK)
    gap = np.where(near, 0.5 * obstacle.clearance, np.inf)
    rows = np.flatnonzero(near)
    meets = nearer_than(obstacle.distance, start[rows], end[rows], radius - LIMIT_SLACK)
    gap[rows[meets]] = -np.inf
    gap[obstacle.holds(end)] = -np.inf
    return gap
