"""How far a screw stays from joint surfaces and from what must be avoided."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.bone import nearer_than, point_distance, segment_distance
from trajplan.checks._spacing import cylinders
from trajplan.checks._types import LIMIT_SLACK, Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.bone import Surface, SurfaceDistance, Volume
    from trajplan.trajectory import Trajectories

__all__ = ["Obstacle", "clearance", "head_on_joint", "too_near"]


@dataclass(frozen=True, slots=True, eq=False)
class Obstacle:
    """A surface that screws must stay clear of."""

    name: str
    role: Literal["joint", "avoid"]
    surface: Surface
    distance: SurfaceDistance
    clearance: float  # mm
    volume: Volume | None = None  # what it encloses, where it is closed
    missing: Obstacle | None = None  # what may have stood where it has holes (`_holes`)
    said: str = ""  # of such a missing part: what is wrong with the surface

    @property
    def label(self) -> str:
        """The name as sentences may hold it: a name is no template."""
        return self.name.replace("{", "(").replace("}", ")")

    def holds(self, points: Vec3s) -> Bools:
        """Whether points lie inside a closed obstacle, whose surface they then need not be near.

        Parameters
        ----------
        points : (n, 3) float array, mm
            Points.

        Returns
        -------
        (n,) bool array
        """
        if self.volume is None:
            return np.zeros(len(points), dtype=np.bool_)
        return self.volume.contains(points)


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
    inside = obstacle.holds(screws.corridors.axes.at(screws.tip)[rows])
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
    near[rows] |= obstacle.holds(screws.corridors.axes.at(screws.tip)[rows])
    clear = np.where(near, -np.inf, np.inf)
    verdicts = _ruling(np.where(placed, clear, np.nan), obstacle, screws)
    return replace(verdicts, measured=np.full(len(screws), np.nan))


def _ruling(gap: Floats, obstacle: Obstacle, screws: Trajectories) -> Ruling:
    """Fail a screw that comes too near to a joint surface or to a structure."""
    verdict, limit = grade(gap, fail_below=obstacle.clearance, applies=screws.corridors.hit)
    name = obstacle.label
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
        below={
            Verdict.FAIL: f"The screw cuts {{measured}} into {name}; {{limit}} must be kept clear."
        },
    )


def head_on_joint(screws: Trajectories, joint: Obstacle) -> Ruling:
    """Fail a screw whose head, or washer, sits on a joint surface.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    joint : Obstacle
        A joint surface.

    Returns
    -------
    Ruling
        Measures mm from the edge of the head, or of its washer, to the joint surface, from
        the entry outwards; negative where it covers it.
    """
    hit = screws.corridors.hit
    edge = np.fmax(screws.dims.head, screws.washer_diameter) / 2.0
    gap, entry = np.full(len(screws), np.nan), screws.corridors.axes.origin[hit]
    away = point_distance(joint.distance, entry)
    gap[hit] = np.where(joint.holds(entry), -away, away) - edge[hit]
    verdict, limit = grade(gap, fail_below=0.0, applies=hit, doubt=~screws.corridors.decided)
    return Ruling(
        rule="head_on_joint",
        verdict=verdict,
        measured=gap,
        limit=limit,
        unit="mm",
        source="common practice",
        sentences={
            Verdict.PASS: f"The head keeps {{measured}} from its edge to {joint.label}.",
            Verdict.FAIL: f"The head sits on {joint.label} and overlaps it by {{measured}}: it "
            "would stand in the joint.",
            Verdict.UNKNOWN: f"Whether the head sits on {joint.label} cannot be told: the surface "
            "of the bone is open at the entry.",
        },
    )
