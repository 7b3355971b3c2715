"""Whether the bone can be reached along the axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import line_spans
from trajplan.checks._types import DOES_NOT_APPLY, Ruling, Verdict, grade
from trajplan.trajectory import bundle

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3
    from trajplan.bone import Bone
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories, WirePaths

__all__ = ["Approach", "approach", "drill_access"]

#: Lines on the guide's rim that look for bone in its way.
GUIDE_LINES = 12
#: The guide's rim may meet the bone this much before the axis does on a flat wall of the
#: same slant: bone round the entry bulges. Past that it is another piece of bone.
BULGE = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Approach:
    """The side that the bone is reached from."""

    direction: Vec3  # (3,) unit, from the bone towards the surgeon
    cone: float  # degrees, half-angle within which the drill may point


def approach(screws: Trajectories | WirePaths, side: Approach | None) -> Ruling:
    """Fail a screw or wire that would have to be drilled from a side that is not open.

    Parameters
    ----------
    screws : Trajectories or WirePaths
        ``n`` screws or wires.
    side : Approach or None
        The open side; None: the case does not say.

    Returns
    -------
    Ruling
        Measures degrees between the axis, seen from the tip, and the middle of the side.
    """
    n, hit = len(screws), screws.corridors.hit
    if side is None:
        blank = np.full(n, np.nan)
        verdict = np.where(hit, int(Verdict.UNKNOWN), DOES_NOT_APPLY).astype(np.int8)
        angle, limit = blank, blank
    else:
        cosine = np.clip(-screws.corridors.axes.direction @ side.direction, -1.0, 1.0)
        angle = np.degrees(np.arccos(cosine))
        verdict, limit = grade(angle, fail_above=side.cone, applies=hit)
    return Ruling(
        rule="approach",
        verdict=verdict,
        measured=angle,
        limit=limit,
        unit="degrees",
        source="the case",
        sentences={
            Verdict.PASS: "The axis lies {measured} off the middle of the open side.",
            Verdict.FAIL: "The axis lies {measured} off the middle of the open side, which "
            "ends at {limit}: it cannot be drilled from there.",
            Verdict.UNKNOWN: "The case does not say from which side the bone can be reached.",
        },
    )


def drill_access(screws: Trajectories, limits: Limits, bone: Bone) -> Ruling:
    """Fail a screw whose drill guide would run into bone on its way to the entry.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``guide_diameter`` and ``guide_length``, mm.
    bone : Bone
        The bone.

    Returns
    -------
    Ruling
        Measures mm of free way above the entry along the whole rim of the guide.
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


def _free_length(screws: Trajectories, limits: Limits, bone: Bone) -> Floats:
    """Distance from the entry back to the nearest bone in the guide's way, at most its length."""
    corridors = screws.corridors
    n = len(screws)
    radius = np.full((n, 1), limits.guide_diameter / 2.0)
    origin, direction = bundle(corridors.axes, radius, GUIDE_LINES, with_axis=True)
    outer = line_spans(bone, origin, direction).outer
    slope = np.tan(np.radians(np.nan_to_num(screws.entry_angle, nan=0.0)))
    rests = -(np.minimum(slope, STEEPEST) * radius[:, 0] + BULGE)  # where the guide's rim may touch
    axis = rows_of(outer.offsets) // (GUIDE_LINES + 1)
    # A piece of bone that begins above the rim's place is in the way; it ends nearest.
    in_way = (outer.start < rests[axis]) & (outer.end > -limits.guide_length)
    top = np.where(outer.end < rests[axis], outer.end, rests[axis])
    nearest = np.full(n, -limits.guide_length)
    np.maximum.at(nearest, axis[in_way], top[in_way])
    return np.where(corridors.hit, -nearest, np.nan)


#: Slope of the steepest wall that a guide is set on (75 degrees).
STEEPEST = 3.7
