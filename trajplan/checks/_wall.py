"""Whether the cylinder stays in the bone, and the bone is what the model says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import covered, covered_unknown
from trajplan.checks._types import DOES_NOT_APPLY, Ruling, Verdict, grade
from trajplan.trajectory import Basis, off_wall

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Corridors, Trajectories

__all__ = ["cortex_known", "inside_known", "leaves_bone", "wall_breach"]

#: A ring line may meet a round wall this much, times the radius and the squared slope, off
#: the flat wall of the same slant: a bone of 12 mm radius departs by 0.9 mm at 60 degrees
#: under a hole of 4.5 mm.
ROUNDNESS = 0.25
#: The same, added, for a wall that is round but not slanted (a 4.5 mm hole in a bone of
#: 8 mm radius dips by 0.3 mm).
ROUNDNESS_FLAT = 0.5
#: Degrees; no slope steeper than this earns more allowance: a step is no slope.
STEEPEST = 60.0


def wall_breach(screws: Trajectories, limits: Limits) -> Ruling:
    """Fail a screw whose cylinder lies outside the bone where it should be inside.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``breach``, mm.

    Returns
    -------
    Ruling
        Measures the greatest length that a line of the ring runs outside the wall.
    """
    breach = _breach(screws.corridors, screws)
    verdict, limit = grade(
        breach,
        fail_above=limits.breach,
        applies=screws.corridors.hit,
        doubt=~screws.corridors.decided,
    )
    return Ruling(
        rule="wall_breach",
        verdict=verdict,
        measured=breach,
        limit=limit,
        unit="mm",
        source="geometry",
        sentences={
            Verdict.PASS: "The whole cylinder stays inside the outer wall: {measured} outside.",
            Verdict.FAIL: "The screw breaks out of the side of the bone over {measured}.",
            Verdict.UNKNOWN: "Whether the cylinder stays inside cannot be told: the surface is "
            "open there.",
        },
    )


def _breach(corridors: Corridors, screws: Trajectories) -> Floats:
    """Longest run of a ring line outside: late in, early out, out in between, or never in.

    A screw that ends in bone is followed to its tip and no further: where its line would come
    out of the bone, perhaps far away and at a slant, no drill and no thread ever gets to.
    """
    entry, way_out = corridors.line_entry[:, 1:], corridors.line_exit[:, 1:]
    blind = ~screws.bicortical[:, None]
    end = np.where(blind, np.fmin(way_out, screws.tip[:, None]), way_out)
    late = off_wall(entry) - _round_wall(corridors.radius, screws.entry_angle)[:, None]
    through = -off_wall(way_out) - _round_wall(corridors.radius, screws.exit_angle)[:, None]
    soon = np.where(blind, screws.tip[:, None] - way_out, through)
    # what cannot be told is no breach: the rule answers unknown there
    lines = corridors.line_entry.ravel(), np.c_[corridors.line_exit[:, :1], end].ravel()
    inside = covered(corridors.outer, *lines) + covered_unknown(corridors.outer, *lines)
    between = end - entry - inside.reshape(corridors.line_entry.shape)[:, 1:]
    outside = np.maximum(np.maximum(late, soon), np.maximum(between, 0.0))
    never = np.broadcast_to(corridors.exit[:, None], outside.shape)
    missing = np.isnan(entry).any(axis=1, keepdims=True)  # then no wall can be laid through them
    worst: Floats = np.where(missing, never, outside).max(axis=1, initial=0.0)
    return np.where(corridors.hit, worst, np.nan)


def _round_wall(radius: Floats, angle: Floats) -> Floats:
    """Depth by which a ring line may depart from a flat wall, because real walls are round."""
    slope = np.tan(np.radians(np.clip(np.nan_to_num(angle, nan=0.0), 0.0, STEEPEST)))
    lag: Floats = ROUNDNESS * radius * slope**2 + ROUNDNESS_FLAT
    return lag


def leaves_bone(screws: Trajectories, limits: Limits) -> Ruling:
    """Fail a screw that crosses air which is no fracture; caution bone past the exit.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``plunge``, mm past the deepest exit.

    Returns
    -------
    Ruling
        Measures how far past the exit the axis meets bone again. Fails too where the tip
        reaches that bone; cautions where a drill may. Unknown where inside and outside could
        not be told apart.
    """
    corridors = screws.corridors
    fine = np.where(corridors.decided, int(Verdict.PASS), int(Verdict.UNKNOWN))
    verdict = np.where(corridors.hit, fine, DOES_NOT_APPLY)
    spare = corridors.again - corridors.deepest_exit
    verdict = np.where(np.isfinite(spare), np.fmax(verdict, int(Verdict.NOTE)), verdict)
    verdict = np.where(spare <= limits.plunge, int(Verdict.CAUTION), verdict)
    reaches = screws.tip >= corridors.again
    verdict = np.where(reaches | (corridors.hit & corridors.leaves), int(Verdict.FAIL), verdict)
    return Ruling(
        rule="leaves_bone",
        verdict=verdict.astype(np.int8),
        measured=corridors.again - corridors.exit,
        limit=np.full(len(screws), np.nan),
        unit="mm",
        source="geometry",
        sentences={
            Verdict.PASS: "The axis stays in one piece of bone from entry to exit.",
            Verdict.NOTE: "The line meets bone again {measured} past the exit, farther than a "
            "drill plunges.",
            Verdict.CAUTION: "The line meets bone again {measured} past the exit, where a drill "
            "that plunges may reach it: decide whether it is to be stopped or led elsewhere.",
            Verdict.FAIL: "{remark}",
            Verdict.UNKNOWN: "Whether the axis stays in one piece of bone cannot be told: the "
            "surface is open there.",
        },
        remark=lambda row: _left(bool(corridors.leaves[row])),
    )


def _left(leaves: bool) -> str:
    if leaves:
        return (
            "The axis leaves the bone in between: it crosses air that is no fracture, and enters "
            "bone more than once before the fracture is held."
        )
    return "The tip runs into bone that comes past the exit: another bone, or a notch of this one."


def cortex_known(screws: Trajectories, _limits: Limits) -> Ruling:
    """Say what the cortex thickness rests on.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Pass where a canal is modelled or a CT shows the wall, a note where the case
        assumes a thickness, unknown where it does not, or where inside and outside could not
        be told apart. Measures the near cortex along the axis, mm.
    """
    weight = np.array(
        [int(Verdict.PASS), int(Verdict.NOTE), int(Verdict.UNKNOWN), int(Verdict.PASS)]
    )
    told = np.where(screws.corridors.decided, weight[screws.walls.basis], int(Verdict.UNKNOWN))
    verdict = np.where(screws.corridors.hit, told, DOES_NOT_APPLY)
    return Ruling(
        rule="cortex_known",
        verdict=verdict.astype(np.int8),
        measured=screws.walls.near,
        limit=np.full(len(screws), np.nan),
        unit="mm",
        source="the model",
        sentences={
            Verdict.PASS: "{remark} {measured} along the axis.",
            Verdict.NOTE: "The axis meets no modelled canal: the near cortex of {measured} "
            "along the axis, and the purchase that rests on it, are an assumption of the case.",
            Verdict.UNKNOWN: "How thick the cortex is cannot be told: the axis meets no modelled "
            "canal and the case assumes no cortex, or the surface is open there.",
        },
        remark=lambda i: (
            "The wall is read in the CT: the near cortex is"
            if screws.walls.basis[i] == Basis.MEASURED
            else "The canal is modelled: the screw runs beside it, in its wall for all of"
            if screws.walls.near[i] >= screws.corridors.exit[i]
            else "The canal is modelled: the near cortex is"
        ),
    )


def inside_known(screws: Trajectories, _limits: Limits) -> Ruling:
    """Say where inside and outside could not be told apart.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Applies only where a line of the bundle has an unknown interval.
    """
    doubt = screws.corridors.hit & ~screws.corridors.decided
    blank = np.full(len(screws), np.nan)
    return Ruling(
        rule="inside_known",
        verdict=np.where(doubt, int(Verdict.UNKNOWN), DOES_NOT_APPLY).astype(np.int8),
        measured=blank,
        limit=blank,
        unit="",
        source="geometry",
        sentences={
            Verdict.UNKNOWN: "The surface is open, crosses itself or contradicts itself near this "
            "screw: part of its way cannot be told to be bone or not. Mend the mesh there, as its "
            "cautions say, or lead the screw elsewhere."
        },
    )
