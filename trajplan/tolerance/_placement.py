"""The chance of harm, and of less than planned, when hands err."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import (
    DOES_NOT_APPLY,
    Verdict,
    cylinders,
    drill_meets,
    pair_gap,
    pair_names,
    screw_rulings,
    shaft_gap,
    too_near,
)
from trajplan.tolerance._chances import Chances, wilson
from trajplan.tolerance._scatter import joined, scattered
from trajplan.trajectory import Made, Technique, plan_trajectories, wall_slope

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.checks import Limits, Ruling, Surroundings
    from trajplan.implants import Washer
    from trajplan.tolerance._scatter import Scatter, Tries
    from trajplan.trajectory import Axes, Settings, Trajectories

__all__ = ["FAILURES", "HARM", "PAIRS", "RULES", "SPARE", "Hands", "place", "place_each"]

#: Rules that a screw put in by hand is judged by; the others judge the plan's own line.
FAILURES = (
    "meets_bone",
    "crosses_fracture",
    "tilt",
    "local_tilt",
    "thread_across",
    "near_thread",
    "other_thread",
    "other_tilt",
    "purchase",
    "tip_past",
    "tip_short",
    "wall_breach",
    "leaves_bone",
    "head_support",
    "fracture_edge",
    "head_across",
    "head_on_joint",
    "joint_clearance",
    "avoid_clearance",
    "drill_access",
    "guide_way",
)
#: What is asked of tries alone: whether a screw, its drill or its neighbour is truly met.
MET = ("joint_met", "structure_met", "drill_met")
PAIRS = ("screw_gap", "screws_meet")
RULES = (*FAILURES, *MET, *PAIRS)
#: Failures that do harm: the drill or the screw goes where it must not, or the thread holds the
#: fracture open. Any other but `SPARE` leaves the screw doing less than was planned.
HARM = frozenset(
    {
        *("meets_bone", "thread_across", "near_thread", "other_thread", "head_on_joint"),
        *("guide_way", "screws_meet", *MET),
    }
)
#: Rules that ask for room to spare, which is there for hands to use up: a screw that comes
#: nearer than was wanted to a joint, a structure, another screw or the far wall does all that
#: it should as long as it meets none of them (`MET`, ``screws_meet``) and does not come out of
#: the bone (``wall_breach``). They are told, and are no loss. Heads that would meet are such
#: room: the first stands in sight where the second is drilled, which is set beside it (common
#: practice); shafts that run through each other in the bone nobody sees.
SPARE = frozenset({"tip_short", "joint_clearance", "avoid_clearance", "screw_gap"})
_HARM = np.array([rule in HARM for rule in RULES])
_LESS = ~_HARM & np.array([rule not in SPARE for rule in RULES])
#: Axes cast at a time, so that memory stays flat whatever the number of draws.
BATCH = 4096


@dataclass(frozen=True, slots=True, eq=False)
class Hands:
    """Everything that a planned screw needs to be put in again, a little off its line."""

    screws: Trajectories
    around: Surroundings
    limits: Limits
    settings: Settings
    washers: tuple[Washer | None, ...]

    def put_in(self, axes: Axes, screw: Ints, plunge: Floats) -> Trajectories:
        """Put planned screws in along other axes, as the drill sheet tells hands to do.

        Parameters
        ----------
        axes : Axes
            ``m`` axes.
        screw : (m,) int array
            Row of the planned screw for each axis.
        plunge : (m,) float array, mm
            How far each gliding drill goes on in the open once the near fragment is through.

        Returns
        -------
        Trajectories
            Gliding holes end where they are felt to; the length of a bicortical screw is what
            the gauge asks for on the line that was drilled. A blind hole is drilled to the
            planned depth and gets the planned screw. A partial thread stays as it was planned.
        """
        plan = self.screws
        partial = plan.technique == Technique.PARTIAL
        made = Made(
            length=np.where(plan.bicortical, np.nan, plan.length)[screw],
            partial=np.where(partial, plan.tip - plan.thread_from, np.nan)[screw],
            plunge=plunge,
        )
        return plan_trajectories(
            self.around.bone,
            axes,
            plan.dims.take(screw),
            self.around.zones,
            zone=plan.crossing.zone[screw],
            technique=plan.technique[screw],
            bicortical=plan.bicortical[screw],
            settings=self.settings,
            washers=self.washers,
            made=made,
            ball=self._balls()[screw],
        )

    def _balls(self) -> Vec3s:
        """Middles of the heads' spheres in the holes of plates; NaN where a head rests on bone."""
        plan = self.screws
        balls: Vec3s = plan.corridors.axes.at(plan.seats.seat - plan.dims.head_radius)
        return np.where(plan.seats.plated[:, None], balls, np.nan)

    def rulings(self, screws: Trajectories) -> list[Ruling]:
        """Judge screws that were put in, by the rules that depend on the hand.

        Parameters
        ----------
        screws : Trajectories
            ``m`` screws.

        Returns
        -------
        list of Ruling
        """
        return screw_rulings(screws, self.limits, self.around, measure=False, only=FAILURES)

    def met(self, screws: Trajectories, rulings: list[Ruling], beyond: Floats) -> dict[str, Bools]:
        """Whether screws that were put in, or their drills, meet what must be kept.

        Parameters
        ----------
        screws : Trajectories
            ``m`` screws.
        rulings : list of Ruling
            Their `rulings`: what keeps its clearance is not met.
        beyond : (m,) float array, mm
            How far each drill plunges behind the far wall.

        Returns
        -------
        dict of str to (m,) bool array
            One of each of `MET`.
        """
        found = {rule: np.zeros(len(screws), dtype=np.bool_) for rule in MET}
        near = [r for r in rulings if r.rule in ("joint_clearance", "avoid_clearance")]
        through = np.flatnonzero(screws.corridors.hit & screws.bicortical)
        for obstacle, ruling in zip(self.around.obstacles, near, strict=True):
            rows = np.flatnonzero(ruling.verdict == Verdict.FAIL)
            touching = too_near(screws.take(rows), replace(obstacle, clearance=0.0))
            rule = "joint_met" if obstacle.role == "joint" else "structure_met"
            found[rule][rows] |= touching.verdict == Verdict.FAIL
            found["drill_met"][through] |= drill_meets(screws, through, obstacle, beyond[through])
        return found


def not_passed(ruling: Ruling) -> Bools:
    """Where a screw fails, or slips to where the rule cannot tell: no pass is vouched for.

    Parameters
    ----------
    ruling : Ruling
        A rule's answer for ``m`` screws.

    Returns
    -------
    (m,) bool array
        A caution passes, such as a guide that comes near to a nerve and does not meet it.
    """
    lost: Bools = (ruling.verdict == Verdict.FAIL) | (ruling.verdict == Verdict.UNKNOWN)
    return lost


def place(
    hands: Hands,
    ids: tuple[str, ...],
    scatter: Scatter,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> Chances:
    """Put every screw of a plan in many times, as hands would, and count what comes of it.

    Parameters
    ----------
    hands : Hands
        The plan and what it stands in.
    ids : tuple of str, length n
        Names of the screws.
    scatter : Scatter
        How hands err; draws and seed.
    progress : callable, optional
        Called with the axes done and all axes.

    Returns
    -------
    Chances

    Notes
    -----
    The same cast and the same rules as the plan itself. A rule that cannot be told on the
    planned line, or does not apply there, is not asked of the tries. Errors of different screws
    are independent.
    """
    return place_each(hands, ids, (scatter,), progress=progress)[0]


def place_each(
    hands: Hands,
    ids: tuple[str, ...],
    scatters: Sequence[Scatter],
    *,
    progress: Callable[[int, int], None] | None = None,
) -> list[Chances]:
    """Put every screw in as `place` does, by several ways at once: one cast for all of them.

    Parameters
    ----------
    hands : Hands
        The plan and what it stands in.
    ids : tuple of str, length n
        Names of the screws.
    scatters : sequence of Scatter
        How hands err by each way.
    progress : callable, optional
        Called with the axes done and all axes.

    Returns
    -------
    list of Chances
        One for each way, the same as each by itself.
    """
    n, silent = len(ids), silent_rules(hands)
    corridors = hands.screws.corridors
    slope = wall_slope(corridors.line_entry[:, 1:], corridors.radius)
    drawn = [scattered(corridors.axes, slope, scatter) for scatter in scatters]
    screw = np.concatenate([np.repeat(np.arange(n), scatter.draws) for scatter in scatters])
    failed, unsure, ends = _tried(hands, joined(drawn), screw, progress)
    found, first = [], 0
    for scatter in scatters:
        some = slice(first, first := first + n * scatter.draws)
        gaps = _gaps(tuple(end[some] for end in ends), n, scatter.draws)
        failing, blind = (
            part[:, some].reshape(len(RULES), n, scatter.draws).swapaxes(0, 1)
            for part in (failed, unsure)
        )
        found.append(_chances(ids, failing, blind, silent, gaps, hands.limits))
    return found


def _tried(
    hands: Hands, tries: Tries, screw: Ints, progress: Callable[[int, int], None] | None
) -> tuple[Bools, Bools, tuple[Floats, ...]]:
    """Rules that each of ``m`` tries fails, or cannot tell, (r, m) each; ends of its cylinders."""
    m = len(screw)
    failed, unsure = np.zeros((2, len(RULES), m), dtype=np.bool_)
    ends: list[tuple[Floats, ...]] = []
    for first in range(0, m, BATCH):
        rows = np.arange(first, min(first + BATCH, m))
        put = hands.put_in(tries.axes.take(rows), screw[rows], tries.plunge[rows])
        rulings = hands.rulings(put)
        for ruling in rulings:
            at = RULES.index(ruling.rule)
            failed[at, rows] |= ruling.verdict == Verdict.FAIL
            unsure[at, rows] |= ruling.verdict == Verdict.UNKNOWN
        for rule, meets in hands.met(put, rulings, tries.beyond[rows]).items():
            failed[RULES.index(rule), rows] = meets
        ends.append(tuple(array for part in cylinders(put) for array in part))
        if progress is not None:
            progress(int(rows[-1]) + 1, m)
    return failed, unsure, tuple(np.concatenate(part) for part in zip(*ends, strict=True))


def silent_rules(hands: Hands) -> Bools:
    """Rules that have nothing to say of a planned screw, or cannot tell: no chance is known.

    A rule that comes once for each of several obstacles is silent only if it is so for all.

    Parameters
    ----------
    hands : Hands
        The plan and what it stands in.

    Returns
    -------
    (n, r) bool array
        A column for each of `RULES`.
    """
    screws, roles = hands.screws, {obstacle.role for obstacle in hands.around.obstacles}
    decided = screws.corridors.decided
    silent = np.ones((len(screws), len(RULES)), dtype=np.bool_)
    for ruling in hands.rulings(screws):
        known = (ruling.verdict != Verdict.UNKNOWN) & (ruling.verdict != DOES_NOT_APPLY)
        silent[:, RULES.index(ruling.rule)] &= ~known
    applies = {
        "meets_bone": decided,  # these two apply to what misses alone
        "crosses_fracture": decided,
        "joint_met": decided & ("joint" in roles),
        "structure_met": decided & ("avoid" in roles),
        "drill_met": decided & screws.bicortical & bool(roles),
    }
    for rule, known in applies.items():
        silent[:, RULES.index(rule)] = ~known
    return silent


def _gaps(ends: tuple[Floats, ...], n: int, draws: int) -> tuple[Floats, Floats]:
    """Gap between each pair of screws, and of their shafts, in each draw, (pairs, draws) mm."""
    parts = ((ends[0], ends[1], ends[2]), (ends[3], ends[4], ends[5]))
    pairs = list(combinations(range(n), 2))
    gap, shafts = np.zeros((2, len(pairs), draws))
    for row, (a, b) in enumerate(pairs):
        first, second = (np.arange(k * draws, (k + 1) * draws) for k in (a, b))
        gap[row] = pair_gap(parts, first, second)
        shafts[row] = shaft_gap(parts, first, second)
    return gap, shafts


def _chances(
    ids: tuple[str, ...],
    failed: Bools,
    unsure: Bools,
    silent: Bools,
    gaps: tuple[Floats, Floats],
    limits: Limits,
) -> Chances:
    """Count by screw, by pair, and for the plan as a whole."""
    (gap, shafts), n, draws = gaps, len(ids), failed.shape[2]
    pairs = len(gap)
    size = (n + pairs + 1, len(RULES))
    fails, blind = (
        np.zeros((*size, draws), dtype=np.bool_),
        np.zeros((*size, draws), dtype=np.bool_),
    )
    quiet = np.ones(size, dtype=np.bool_)
    quiet[:n] = silent
    fails[:n], blind[:n] = failed & ~silent[:, :, None], unsure & ~silent[:, :, None]
    near, meet = (RULES.index(rule) for rule in PAIRS)
    fails[n:-1, near], fails[n:-1, meet] = gap < limits.screw_gap, shafts < 0.0
    blind[n:-1, [near, meet]] = np.isnan(gap)[:, None]
    quiet[n:-1, [near, meet]] = False
    fails[-1], blind[-1] = fails[:-1].any(axis=0), blind[:-1].any(axis=0)
    quiet[-1] = quiet[:-1].all(axis=0)
    harm = fails[:, _HARM].any(axis=1)
    less = fails[:, _LESS].any(axis=1) & ~harm
    lost = blind[:, _HARM | _LESS].any(axis=1) & ~harm & ~less
    told = draws - np.concatenate(
        [(blind & ~fails).sum(axis=2), np.tile(lost.sum(axis=1)[:, None], 2)], axis=1
    )
    counts = np.column_stack([fails.sum(axis=2), harm.sum(axis=1), less.sum(axis=1)])
    quiet = np.column_stack([quiet, quiet.all(axis=1), quiet.all(axis=1)]) | (told == 0)
    every = np.maximum(told, 1)
    values = (counts / every, *wilson(counts, every))
    chance, low, high = (np.where(quiet, np.nan, value) for value in values)
    return Chances(
        subjects=(*ids, *pair_names(ids), "plan"),
        rules=(*RULES, "harm", "less"),
        chance=chance,
        low=low,
        high=high,
        unknown=lost.sum(axis=1) / draws,
        draws=draws,
    )
