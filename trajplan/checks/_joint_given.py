"""What can be said of joints where the case names none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._spacing import cylinders
from trajplan.checks._types import Finding, Verdict

if TYPE_CHECKING:
    from trajplan.checks._clearance import Obstacle
    from trajplan.checks._rules import Surroundings
    from trajplan.trajectory import Trajectories

__all__ = ["joint_given", "joint_named"]

#: mm past the end of the bone that a screw has to keep: the usual margin to a joint (common
#: practice).
TO_JOINT = 5.0
UNTOLD = (
    "The case names no joint surface: whether a tip ends in a joint cannot be told. Name the joint "
    "that is near under [[joint]]."
)
FAR = (
    "The case names no joint surface, and none of this bone is near: the screws keep to the shaft, "
    "farther from either end than one and a half times its width there. A joint of another bone "
    "has to be named."
)
SQUARES = (
    "rule of squares: the end of a long bone is as long as it is wide (Müller, Nazarian, Koch, "
    "Schatzker, The Comprehensive Classification of Fractures of Long Bones, 1990)"
)


def joint_named(obstacles: tuple[Obstacle, ...]) -> bool:
    """Whether the case names a joint surface.

    Parameters
    ----------
    obstacles : tuple of Obstacle
        What the case names.

    Returns
    -------
    bool
    """
    return any(obstacle.role == "joint" for obstacle in obstacles)


def joint_given(
    screws: Trajectories, around: Surroundings, subject: str = "plan"
) -> Finding | None:
    """Say that no joint surface was given, so that nobody takes silence for a pass.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    around : Surroundings
        What the case names, and the bone's shaft.
    subject : str
        What the finding is on.

    Returns
    -------
    Finding or None
        None where the case names a joint surface, and where there is no screw. A note where every
        screw keeps to the shaft of a long bone, by the margin to a joint; unknown elsewhere.
    """
    if joint_named(around.obstacles) or len(screws) == 0:
        return None
    far = _in_the_shaft(screws, around, TO_JOINT)
    return Finding(
        rule="joint_clearance",
        subject=subject,
        verdict=Verdict.NOTE if far else Verdict.UNKNOWN,
        measured=None,
        limit=None,
        unit="mm",
        why=FAR if far else UNTOLD,
        source=SQUARES if far else "the case",
    )


def _in_the_shaft(screws: Trajectories, around: Surroundings, spare: float) -> bool:
    """Whether all of every screw lies between the ends of a long bone."""
    shaft = around.shaft
    if shaft is None or around.end:
        return False
    heights, reach = [], []
    for start, end, radius in cylinders(screws):
        heights += [(point - shaft.point) @ shaft.direction for point in (start, end)]
        reach += [radius, radius]
    along, thick = np.concatenate(heights), np.concatenate(reach)
    return shaft.past_ends(np.concatenate([along - thick, along + thick]), spare)
