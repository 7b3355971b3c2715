"""How far a screw stays from joint surfaces and from what must be avoided."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.bone import nearer_than, segment_distance
from trajplan.checks._spacing import cylinders
from trajplan.checks._types import LIMIT_SLACK, Finding, Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.bone import Surface, SurfaceDistance, Volume
    from trajplan.trajectory import Trajectories

__all__ = ["Obstacle", "clearance", "joint_given", "too_near"]


@dataclass(frozen=True, slots=True, eq=False)
class Obstacle:
    """A surface that screws must stay clear of."""

    name: str
    role: Literal["joint", "avoid"]
    surface: Surface
    distance: SurfaceDistance
    clearance: float  # mm
    volume: Volume | None = None  # what it encloses, where it is closed


def _within(obstacle: Obstacle, ends: Vec3s) -> Bools:
    """Where a screw lies inside a closed obstacle, whose surface it then need not meet."""
    if obstacle.volume is None:
        return np.zeros(len(ends), dtype=np.bool_)
    return obstacle.volume.contains(ends)


def clearance(screws: Trajectories, obstacle: Obstacle) -> Ruling:
    """Fail screws that come too near to an obstacle, heads included.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    obstacle : Obstacle
        The surface and the clearance that it asks for.

    Returns
    -------
    Ruling
        Measures mm from the surface of the screw, taken as round-ended cylinders; exact.
        Negative where the screw cuts into the obstacle; NaN where nothing carries its head,
        so that its place is not known.
    """
    gap = np.full(len(screws), np.nan)
    rows = np.flatnonzero(np.isfinite(screws.tip))
    least = [
        segment_distance(obstacle.distance, start[rows], end[rows]) - radius[rows]
        for start, end, radius in cylinders(screws)
    ]
    inside = _within(obstacle, screws.corridors.axes.at(screws.tip)[rows])
    gap[rows] = np.where(inside, -np.abs(np.minimum.reduce(least)), np.minimum.reduce(least))
    return _ruling(gap, obstacle, screws)


def too_near(screws: Trajectories, obstacle: Obstacle) -> Ruling:
    """Answer `clearance` by yes or no only: certified as well, and many times faster.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    obstacle : Obstacle
        The surface and the clearance that it asks for.

    Returns
    -------
    Ruling
        With the verdicts of `clearance`, and nothing measured.
    """
    near = np.zeros(len(screws), dtype=np.bool_)
    placed = np.isfinite(screws.tip)
    rows = np.flatnonzero(placed)
    for start, end, radius in cylinders(screws):
        limit = obstacle.clearance + radius[rows] - LIMIT_SLACK
        near[rows] |= nearer_than(obstacle.distance, start[rows], end[rows], limit)
    near[rows] |= _within(obstacle, screws.corridors.axes.at(screws.tip)[rows])
    clear = np.where(near, -np.inf, np.inf)
    verdicts = _ruling(np.where(placed, clear, np.nan), obstacle, screws)
    return replace(verdicts, measured=np.full(len(screws), np.nan))


def _ruling(gap: Floats, obstacle: Obstacle, screws: Trajectories) -> Ruling:
    verdict, limit = grade(gap, fail_below=obstacle.clearance, applies=screws.corridors.hit)
    name = obstacle.name.replace("{", "(").replace("}", ")")  # a name is no template
    source = (
        "the case; 5 mm is a common planning margin to a joint (common practice)"
        if obstacle.role == "joint"
        else "the case"
    )
    return Ruling(
        rule=f"{obstacle.role}_clearance",
        verdict=verdict,
        measured=gap,
        limit=limit,
        unit="mm",
        source=source,
        sentences={
            Verdict.PASS: f"The screw stays {{measured}} clear of {name}.",
            Verdict.FAIL: f"The screw comes within {{measured}} of {name}; {{limit}} must be kept.",
            Verdict.UNKNOWN: f"The distance to {name} cannot be told.",
        },
    )


def joint_given(obstacles: tuple[Obstacle, ...]) -> Finding | None:
    """Say that no joint surface was given, so that nobody takes silence for a pass.

    Parameters
    ----------
    obstacles : tuple of Obstacle
        What the case names.

    Returns
    -------
    Finding or None
        None where the case names a joint surface.
    """
    if any(obstacle.role == "joint" for obstacle in obstacles):
        return None
    return Finding(
        rule="joint_clearance",
        subject="plan",
        verdict=Verdict.UNKNOWN,
        measured=None,
        limit=None,
        unit="mm",
        why="The case names no joint surface: whether a tip ends in a joint cannot be told.",
        source="the case",
    )
