"""The holes of a screw: gliding hole or shank hole, thread hole, tap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.trajectory._dimensions import ROUNDING
from trajplan.trajectory._technique import Technique

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.trajectory._corridors import Corridors
    from trajplan.trajectory._crossing import Crossing
    from trajplan.trajectory._dimensions import Dimensions
    from trajplan.trajectory._walls import Walls

__all__ = ["Holes", "entry_hole", "glide_depth", "holes", "thread_hole"]


@dataclass(frozen=True, slots=True, eq=False)
class Holes:
    """Holes of ``n`` screws: diameters and depths from the entry in mm, NaN where none."""

    gliding: Floats  # (n,) diameter; of the shank hole where the thread is partial
    gliding_to: Floats  # (n,) depth at which it ends
    thread: Floats  # (n,) diameter; NaN also where no source names a drill
    thread_from: Floats  # (n,)
    thread_to: Floats  # (n,)
    tap: Floats  # (n,) diameter
    tap_from: Floats  # (n,)
    tap_to: Floats  # (n,)


def thread_hole(dims: Dimensions) -> Floats:
    """Diameter of the thread hole.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.

    Returns
    -------
    (n,) float array, mm
        The core's diameter stands in for a hole that no source names.
    """
    return np.where(np.isfinite(dims.thread_hole), dims.thread_hole, dims.core)


def entry_hole(dims: Dimensions, technique: Ints) -> Floats:
    """Diameter of the hole at the entry, on whose rim the head will rest.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    technique : (n,) int array
        Values of `Technique`.

    Returns
    -------
    (n,) float array, mm
        As `thread_hole` where no wider hole is drilled first.
    """
    narrow = thread_hole(dims)
    partial = np.fmax(dims.shank_hole, narrow)
    glide = np.where(np.isfinite(dims.gliding_hole), dims.gliding_hole, dims.thread)
    return np.where(
        technique == Technique.GLIDING,
        glide,
        np.where(technique == Technique.PARTIAL, partial, narrow),
    )


def glide_depth(deep: Floats) -> Floats:
    """Depth of a gliding hole that must pass the fracture.

    Parameters
    ----------
    deep : (n,) float array, mm
        Deepest crossing of the fracture.

    Returns
    -------
    (n,) float array, mm
        Rounded up to the next `GLIDE_STEP`: a depth that is rounded down leaves thread in the
        near fragment.
    """
    steps: Floats = np.ceil(deep / GLIDE_STEP - ROUNDING)
    return GLIDE_STEP * steps


def holes(
    corridors: Corridors,
    dims: Dimensions,
    technique: Ints,
    crossing: Crossing,
    wall: Walls,
    bicortical: Bools,
    tip: Floats,
    hole_exit: Floats,
) -> Holes:
    """Drill every hole of ``n`` screws on paper.

    Parameters
    ----------
    corridors, dims, technique, crossing, wall, bicortical, tip, hole_exit
        As in `trajplan.trajectory.Trajectories`.

    Returns
    -------
    Holes

    Notes
    -----
    A gliding hole ends where the last line of the ring has passed the fracture, rounded up,
    so that no thread bites the near fragment anywhere on the circumference. A shank hole goes
    through the near cortex only (through the near fragment where no cortex is known). A
    deep thread is tapped in the near cortex and cuts its own way beyond; a shallow one is
    tapped wherever it bites (facts as read in Wheeless' Textbook of Orthopaedics, lag
    screw theory, and cancellous screws 4.5 and 6.5).
    """
    glides, partial = technique == Technique.GLIDING, technique == Technique.PARTIAL
    crosses = crossing.inside
    near = np.fmin(np.where(np.isfinite(wall.near), wall.near, crossing.deep), crossing.deep)
    shank = partial & (dims.shank_hole > np.nan_to_num(dims.thread_hole, nan=np.inf))
    gliding_to = np.where(
        glides & crosses, glide_depth(crossing.deep), np.where(shank & crosses, near, np.nan)
    )
    gliding = np.where(
        glides & crosses,
        entry_hole(dims, technique),
        np.where(shank & crosses, dims.shank_hole, np.nan),
    )
    thread_from = np.where(np.isfinite(gliding_to), gliding_to, 0.0)
    thread_to = np.where(bicortical, hole_exit, tip + BLIND)
    soft_tap = np.fmin(
        np.where(np.isfinite(wall.near), wall.near, TAP_TURNS * dims.pitch), thread_to
    )
    hit = corridors.hit
    return Holes(
        gliding=gliding,
        gliding_to=gliding_to,
        thread=np.where(hit, dims.thread_hole, np.nan),
        thread_from=np.where(hit, thread_from, np.nan),
        thread_to=np.where(hit, thread_to, np.nan),
        tap=np.where(hit, dims.tap, np.nan),
        tap_from=np.where(hit, np.where(dims.deep, 0.0, thread_from), np.nan),
        tap_to=np.where(hit, np.where(dims.deep, soft_tap, thread_to), np.nan),
    )


#: mm in which the depth of a gliding hole is told: no hand drills to less (assumption).
GLIDE_STEP = 0.5
#: mm by which a blind hole is deeper than the screw, which would else bottom out and press
#: nothing (AO Foundation, online surgery reference, canine proximal femur, lag screw
#: fixation: "a little shorter"; how much is an assumption).
BLIND = 1.0
#: "The first turns" that a deep thread is tapped for where no cortex is known.
TAP_TURNS = 3.0
