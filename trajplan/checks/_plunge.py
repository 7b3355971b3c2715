"""What lies behind the far wall: a drill that breaks through it goes on before hands stop it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import nearer_than
from trajplan.checks._types import LIMIT_SLACK, Ruling, Verdict, grade
from trajplan.trajectory import thread_hole

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks._clearance import Obstacle
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = ["drill_meets", "plunge"]

#: mm to which the way to an obstacle is found: where it decides, it decides as `drill_meets`.
FOUND_TO = 1e-6


def plunge(
    screws: Trajectories, limits: Limits, obstacle: Obstacle, *, measure: bool = True
) -> Ruling:
    """Judge what the drill meets once it has come through the far wall.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``plunge`` cautions, ``plunge_least`` fails; mm behind the far wall.
    obstacle : Obstacle
        A joint surface, or what must be avoided.
    measure : bool
        Whether the way is measured, or only decided, which is much faster.

    Returns
    -------
    Ruling
        Applies to bicortical screws, whose hole goes through. Measures mm from the deepest
        exit of the hole to where the drill meets the obstacle, to `FOUND_TO`; endless where it
        does not within ``plunge``.
    """
    through = screws.corridors.hit & screws.bicortical
    way = np.full(len(screws), np.inf)
    rows = np.flatnonzero(through)
    near = rows[drill_meets(screws, rows, obstacle, limits.plunge)]
    if measure:
        way[near] = _way(screws, near, obstacle, limits.plunge)
    else:
        meets = drill_meets(screws, near, obstacle, limits.plunge_least)
        way[near] = np.where(meets, -np.inf, limits.plunge_least)
    verdict, limit = grade(
        way,
        caution_below=limits.plunge,
        fail_below=limits.plunge_least,
        applies=through,
        doubt=~screws.corridors.decided,
    )
    name = obstacle.label
    return Ruling(
        rule="plunge",
        verdict=verdict,
        measured=way if measure else np.full(len(screws), np.nan),
        limit=limit,
        unit="mm",
        source="Clement et al. 2012, J Orthop Trauma 26:482, doi 10.1097/BOT.0b013e3182336ec3; "
        "Ding and Marmor 2019, J Orthop Trauma, doi 10.1097/BOT.0000000000001490 (abstracts)",
        sentences={
            Verdict.PASS: f"Behind the far wall the drill meets nothing of {name} within "
            "{limit}, as far as hands plunge with a sharp drill.",
            Verdict.CAUTION: f"The drill's way leads to {name}, {{measured}} behind the far wall, "
            "and hands plunge up to {limit} with a sharp drill, further with a blunt one: "
            "decide on a drill stop or a retractor behind the bone.",
            Verdict.FAIL: f"The drill's way leads to {name}, only {{measured}} behind the far "
            "wall: a drill that comes through the wall meets it ({limit} is the least). Choose "
            "another line, or a screw that stops short of that wall.",
            Verdict.UNKNOWN: f"Whether the drill meets {name} behind the far wall cannot be told.",
        },
    )


def drill_meets(
    screws: Trajectories, rows: Ints, obstacle: Obstacle, reach: Floats | float
) -> Bools:
    """Whether the drill for the thread hole meets an obstacle on its way out of the bone.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    rows : (m,) int array
        Those that are looked at, all of which meet the bone.
    obstacle : Obstacle
        The obstacle.
    reach : float or (m,) float array, mm
        How far the drill's point comes behind the far wall.

    Returns
    -------
    (m,) bool array
        The drill is taken as a round-ended cylinder from the far wall on; the core's diameter
        stands in for a drill that no source names.
    """
    axes, radius = screws.corridors.axes.take(rows), thread_hole(screws.dims)[rows] / 2.0
    end = screws.holes.thread_to[rows] + reach - radius
    start, stop = axes.at(np.fmin(screws.corridors.exit[rows], end)), axes.at(end)
    meets: Bools = nearer_than(obstacle.distance, start, stop, radius - LIMIT_SLACK)
    return meets | obstacle.holds(stop)


def _way(screws: Trajectories, rows: Ints, obstacle: Obstacle, furthest: float) -> Floats:
    """Way behind the far wall to an obstacle that is met within ``furthest``, by halving."""
    at_once = drill_meets(screws, rows, obstacle, 0.0)
    clear, met = np.zeros(len(rows)), np.where(at_once, 0.0, furthest)
    while (met - clear).max(initial=0.0) > FOUND_TO:
        middle = (clear + met) / 2.0
        meets = drill_meets(screws, rows, obstacle, middle)
        clear, met = np.where(meets, clear, middle), np.where(meets, middle, met)
    return met
