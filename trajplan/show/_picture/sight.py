"""Where the surgeon looks from: the line of sight of a plan, and the views along and across it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions
from trajplan.geometry import frames
from trajplan.show._items.plate import every_screw
from trajplan.show._picture.camera import framed
from trajplan.show._words.sides import side_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.files import PlanFile
    from trajplan.planner import Setup
    from trajplan.show._items.item import Item
    from trajplan.show._items.palette import Role
    from trajplan.show._picture.camera import View

__all__ = ["Sight", "close_to", "sights"]

#: Length of the sum of the screws' directions, over their number, below which they oppose one
#: another so much that none of their sides is the surgeon's.
AGREE = 0.3
#: Sine below which the bone runs along the line of sight and cannot be shown upright.
SMALL = 0.1
#: What a close view frames.
NEAR: frozenset[Role] = frozenset(
    {"head", "thread", "shank", "axis", "fracture", "washer", "wire", "plate"}
)


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """A direction to look from."""

    name: str  # of the picture, in words
    toward: Vec3  # (3,) unit, from what is seen to the viewer
    up: Vec3  # (3,) unit, square to it


def sights(setup: Setup, plan: PlanFile) -> tuple[Sight, Sight]:
    """Look along the surgeon's line of sight, and across it.

    Parameters
    ----------
    setup : Setup
        The case.
    plan : PlanFile
        Its plan.

    Returns
    -------
    along, across : Sight
        The line of sight is the approach where the case names one, else the middle direction of
        the screws, from their heads; the names say which. The bone is upright in both, its
        proximal end (or the end that the clock is seen from) up; the surgeon is at the left
        of the second.
    """
    toward, whose = _line_of_sight(setup, plan)
    up = _upright(setup, plan, toward)
    across = np.cross(up, toward)
    label, bearings = setup.case.frame, plan.bearings
    first, second = (side_name(label, bearings, way) for way in (toward, across))
    return (
        Sight(f"along {whose}, from {first}", toward, up),
        Sight(f"across it, from {second}", across, up),
    )


def close_to(
    items: Sequence[Item], sight: Sight, aspect: float, shares: tuple[float, float]
) -> View:
    """Frame the screws and the fracture.

    Parameters
    ----------
    items : sequence of Item
        What is drawn.
    sight : Sight
        Where to look from.
    aspect : float
        Width of the picture over its height.
    shares : tuple of two floats
        Of the width, kept free for labels at the left and at the right.

    Returns
    -------
    View
    """
    everything = np.vstack([item.points for item in items])
    close = [item.points for item in items if item.role in NEAR]
    near: Vec3s = np.vstack(close) if close else everything
    return framed(near, everything, sight.toward, sight.up, aspect, shares)


def _line_of_sight(setup: Setup, plan: PlanFile) -> tuple[Vec3, str]:
    approach = setup.around.approach
    if approach is not None:
        return as_directions(approach.direction)[0], "the surgeon's line of sight"
    heads: Vec3 = -np.array([s.direction for s in every_screw(plan)]).reshape(-1, 3)
    mean = heads.mean(axis=0) if len(heads) else np.zeros(3)
    if len(heads) and np.linalg.norm(mean) < AGREE:
        mean = heads[0]  # screws from both sides: the first one's
    if np.linalg.norm(mean) > 0.0:
        return as_directions(mean)[0], "the screws (no approach is stated)"
    return frames(setup.shaft.direction[None])[0, 0], "no screw: across the bone"


def _upright(setup: Setup, plan: PlanFile, toward: Vec3) -> Vec3:
    seen = plan.bearings.seen
    long = setup.shaft.direction if seen is None else np.asarray(seen)
    up: Vec3 = long - (long @ toward) * toward
    if np.linalg.norm(up) < SMALL:
        up = frames(toward[None])[0, 0]
    upright: Vec3 = as_directions(up)[0]
    return upright
