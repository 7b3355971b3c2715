"""All rules at once: for candidates, for a plan, for somebody else's axes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._access import Approach, approach, drill_access
from trajplan.checks._clearance import Obstacle, clearance, joint_given, too_near
from trajplan.checks._crossing import crosses_fracture, meets_bone, tilt
from trajplan.checks._edge import fracture_edge
from trajplan.checks._head import drills_named, entry_angle, exit_angle, head_seat, head_support
from trajplan.checks._others import other_fractures
from trajplan.checks._parallel import parallel_to_joint
from trajplan.checks._spacing import screw_gap, screw_spacing
from trajplan.checks._thread import closes_gap, near_thread, purchase, thread_across
from trajplan.checks._tip import tip_past, tip_short
from trajplan.checks._wall import cortex_known, inside_known, leaves_bone, wall_breach

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3
    from trajplan.bone import Bone
    from trajplan.checks._limits import Limits
    from trajplan.checks._types import Finding, Ruling
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["Surroundings", "pair_rulings", "plan_findings", "screw_rulings"]

#: Rules that look at a screw alone.
_ALONE = (
    meets_bone,
    crosses_fracture,
    closes_gap,
    tilt,
    thread_across,
    near_thread,
    purchase,
    tip_past,
    tip_short,
    wall_breach,
    leaves_bone,
    cortex_known,
    inside_known,
    entry_angle,
    exit_angle,
    head_seat,
    head_support,
    drills_named,
)


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What screws are checked against."""

    bone: Bone
    zones: tuple[Zone, ...]
    obstacles: tuple[Obstacle, ...]
    approach: Approach | None
    parallel: Vec3 | None = None  # normal of the joint plane that screws are to run along


def screw_rulings(
    screws: Trajectories,
    limits: Limits,
    around: Surroundings,
    *,
    measure: bool = True,
    access: bool = True,
) -> list[Ruling]:
    """Apply every rule that concerns one screw to ``n`` screws.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        Limits of the rules.
    around : Surroundings
        Bone, fracture, obstacles and open side.
    measure : bool
        Whether clearances are measured, or only decided, which is much faster.
    access : bool
        Whether the way of the drill to the entry is looked at, which takes a cast.

    Returns
    -------
    list of Ruling
        Each with ``n`` rows.
    """
    near = clearance if measure else too_near
    corridors, joint = screws.corridors, around.parallel
    return [
        *(rule(screws, limits) for rule in _ALONE),
        *other_fractures(screws, limits, around.zones),
        fracture_edge(screws, limits, around.zones),
        *(near(screws, obstacle) for obstacle in around.obstacles),
        approach(screws, around.approach),
        *([drill_access(screws, limits, around.bone)] if access else []),
        *(
            [parallel_to_joint(corridors.axes.direction, corridors.hit, joint, limits)]
            if joint is not None
            else []
        ),
    ]


def pair_rulings(
    screws: Trajectories, limits: Limits, ids: Sequence[str]
) -> tuple[list[Ruling], list[str]]:
    """Apply every rule that concerns two screws to all pairs.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        Limits of the rules.
    ids : sequence of str, length n
        Names of the screws.

    Returns
    -------
    rulings : list of Ruling
        Each with one row a pair.
    subjects : list of str
        "S1+S2" for each pair.
    """
    rows = [np.asarray(side) for side in np.triu_indices(len(ids), k=1)]
    subjects = [f"{a}+{b}" for a, b in combinations(ids, 2)]
    return [rule(screws, limits, *rows) for rule in (screw_gap, screw_spacing)], subjects


def plan_findings(around: Surroundings) -> list[Finding]:
    """Findings on the plan as a whole.

    Parameters
    ----------
    around : Surroundings
        Bone, fracture, obstacles and open side.

    Returns
    -------
    list of Finding
        What the case leaves open, whatever the screws.
    """
    missing = joint_given(around.obstacles)
    return [missing] if missing is not None else []
