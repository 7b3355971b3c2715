"""All rules at once: for candidates, for a plan, for somebody else's axes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._access import Approach, approach
from trajplan.checks._aim import TO_FRACTURE, Aim, aim
from trajplan.checks._clearance import Obstacle, clearance, head_on_joint, too_near
from trajplan.checks._crossing import crosses_fracture, local_tilt, meets_bone, tilt
from trajplan.checks._edge import fracture_edge
from trajplan.checks._fragments import (
    fragments_gap,
    fragments_overlap,
    fragments_step,
    fragments_turn,
)
from trajplan.checks._guide import drill_access, guide_way
from trajplan.checks._head import drills_named, entry_angle, exit_angle, head_seat, head_support
from trajplan.checks._head_across import head_across
from trajplan.checks._holes import beside_holes
from trajplan.checks._joint_given import joint_given
from trajplan.checks._others import other_fractures
from trajplan.checks._parallel import parallel_to_joint
from trajplan.checks._plunge import plunge
from trajplan.checks._rests import doubts_of, in_doubt, in_doubt_of_pairs
from trajplan.checks._shaft import along_shaft, bone_share
from trajplan.checks._spacing import pairs_of, screw_gap, screw_spacing
from trajplan.checks._thread import closes_gap, near_thread, purchase, thread_across
from trajplan.checks._tip import tip_past, tip_short
from trajplan.checks._wall import cortex_known, inside_known, leaves_bone, wall_breach

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from trajplan.arrays import Vec3
    from trajplan.bone import Bone, ShaftAxis
    from trajplan.checks._limits import Limits
    from trajplan.checks._types import Finding, Ruling
    from trajplan.fracture import PairReport, Zone
    from trajplan.trajectory import Trajectories

__all__ = [
    "Surroundings",
    "named_by",
    "pair_names",
    "pair_rulings",
    "plan_findings",
    "screw_rulings",
]

#: Rules that look at a screw alone.
_ALONE = (
    meets_bone,
    crosses_fracture,
    closes_gap,
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
    shaft: ShaftAxis | None = None  # the bone's long axis; None: not looked for
    aim: Aim = TO_FRACTURE  # what screws are to stand square to
    end: bool = False  # a bone end is broken, where a screw may run along the shaft
    reports: tuple[PairReport, ...] = ()  # on each pair of fragments


def screw_rulings(
    screws: Trajectories,
    limits: Limits,
    around: Surroundings,
    *,
    measure: bool = True,
    only: Collection[str] | None = None,
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
    only : collection of str, optional
        Names of the rules that are asked for; by default all are.

    Returns
    -------
    list of Ruling
        Each with ``n`` rows.
    """

    def asked(rule: str) -> bool:
        return only is None or rule in only

    near = clearance if measure else too_near
    corridors, joint = screws.corridors, around.parallel
    rulings = [
        *(rule(screws, limits) for rule in _ALONE if asked(rule.__name__)),
        tilt(screws, limits, around.aim),
        local_tilt(screws, limits, around.zones, around.aim),
        *([aim(screws, limits, around.zones, around.aim)] if around.aim.slanted else []),
        *other_fractures(screws, limits, around.zones),
        fracture_edge(screws, limits, around.zones),
        head_across(screws, limits, around.zones),
        *(_to_shaft(screws, limits, around) if asked("along_shaft") or asked("bone_share") else []),
        *(beside_holes(lambda it: near(screws, it), it) for it in around.obstacles),
        *(
            beside_holes(lambda it: head_on_joint(screws, it), it)
            for it in around.obstacles
            if it.role == "joint"
        ),
        *([approach(screws, around.approach)] if asked("approach") else []),
        drill_access(screws, limits, around.bone),
        *(
            beside_holes(lambda it: guide_way(screws, limits, it, measure=measure), it)
            for it in around.obstacles
        ),
        *(
            beside_holes(lambda it: plunge(screws, limits, it, measure=measure), it)
            for it in around.obstacles
            if asked("plunge")
        ),
        *(
            [parallel_to_joint(corridors.axes.direction, corridors.hit, joint, limits)]
            if joint is not None and asked("parallel_to_joint")
            else []
        ),
    ]
    told = [ruling for ruling in rulings if asked(ruling.rule)]
    return in_doubt(told, doubts_of(screws, screws.seats.known))


def _to_shaft(screws: Trajectories, limits: Limits, around: Surroundings) -> list[Ruling]:
    if around.shaft is None:
        return []
    along = [] if around.end else [along_shaft(screws, limits, around.shaft)]
    return [
        *along,
        bone_share(screws, limits, around.shaft, around.zones),
    ]


def pair_rulings(screws: Trajectories, limits: Limits) -> list[Ruling]:
    """Apply every rule that concerns two screws to all pairs.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        Limits of the rules.

    Returns
    -------
    list of Ruling
        Each with one row a pair, in the order of ``np.triu_indices(n, 1)``.
    """
    first, second = np.triu_indices(len(screws), k=1)
    pairs = pairs_of(screws, first, second)
    rulings = [rule(pairs, limits) for rule in (screw_gap, screw_spacing)]
    return in_doubt_of_pairs(rulings, doubts_of(screws, screws.seats.known), first, second)


def pair_names(ids: Sequence[str]) -> list[str]:
    """Names of all pairs, in the order of `pair_rulings`.

    Parameters
    ----------
    ids : sequence of str, length n
        Names of the screws.

    Returns
    -------
    list of str
        "screw 1 + screw 2" for each pair.
    """
    return [f"{a} + {b}" for a, b in combinations(ids, 2)]


def named_by(subject: str, ids: Collection[str]) -> set[str]:
    """Screws that the subject of a finding names.

    Parameters
    ----------
    subject : str
        An id, a name as from `pair_names`, or "plan".
    ids : collection of str
        Names of the screws; a set where there are many. One may hold a " + " itself.

    Returns
    -------
    set of str
        Empty for a finding on the plan as a whole.
    """
    parts = subject.split(" + ")
    splits = [(" + ".join(parts[:i]), " + ".join(parts[i:])) for i in range(1, len(parts))]
    pairs = [pair for pair in splits if pair[0] in ids and pair[1] in ids]
    return {name for pair in pairs for name in pair} | ({subject} if subject in ids else set())


def plan_findings(screws: Trajectories, around: Surroundings, limits: Limits) -> list[Finding]:
    """Findings on the plan as a whole.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    around : Surroundings
        Bone, fracture, obstacles and open side.
    limits : Limits
        Limits of the rules.

    Returns
    -------
    list of Finding
        What the case leaves open, and how the fragments lie.
    """
    fit = fragments_gap, fragments_step, fragments_turn, fragments_overlap
    found = joint_given(screws, around), *(rule(around.reports, limits) for rule in fit)
    return [finding for finding in found if finding is not None]
