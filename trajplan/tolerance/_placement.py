"""The chance of each failure when hands err."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import DOES_NOT_APPLY, Verdict, cylinders, pair_gap, pair_names, screw_rulings
from trajplan.tolerance._scatter import Scatter, scattered
from trajplan.trajectory import Made, Technique, plan_trajectories

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks import Limits, Ruling, Surroundings
    from trajplan.implants import Washer
    from trajplan.trajectory import Axes, Settings, Trajectories

__all__ = ["FAILURES", "Chances", "Hands", "place", "wilson"]

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
#: Axes cast at a time, so that memory stays flat whatever the number of draws.
BATCH = 4096
#: Two-sided 95 % quantile of the normal distribution.
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True, slots=True, eq=False)
class Hands:
    """Everything that a planned screw needs to be put in again, a little off its line."""

    screws: Trajectories
    around: Surroundings
    limits: Limits
    settings: Settings
    washers: tuple[Washer | None, ...]

    def put_in(self, axes: Axes, screw: Ints, depth: Floats) -> Trajectories:
        """Put planned screws in along other axes: same screw, same drilled depths.

        Parameters
        ----------
        axes : Axes
            ``m`` axes.
        screw : (m,) int array
            Row of the planned screw for each axis.
        depth : (m,) float array, mm
            How far past its planned depth each gliding hole ends.

        Returns
        -------
        Trajectories
        """
        plan = self.screws
        partial = plan.technique == Technique.PARTIAL
        made = Made(
            length=plan.length[screw],
            partial=np.where(partial, plan.tip - plan.thread_from, np.nan)[screw],
            gliding_to=plan.holes.gliding_to[screw] + depth,
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
        )

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
        every = screw_rulings(screws, self.limits, self.around, measure=False)
        return [ruling for ruling in every if ruling.rule in FAILURES]


def not_passed(ruling: Ruling) -> Bools:
    """Where a screw fails, or slips to where the rule cannot tell: no pass is vouched for.

    A caution passes, such as a guide that comes near to a nerve and does not meet it; a rule
    that does not apply, such as the guide's way where the bone is missed, leaves the failure
    to the rule that does.

    Parameters
    ----------
    ruling : Ruling
        A rule's answer for ``m`` screws.

    Returns
    -------
    (m,) bool array
    """
    lost: Bools = (ruling.verdict == Verdict.FAIL) | (ruling.verdict == Verdict.UNKNOWN)
    return lost


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Chance of each failure, with 95 % intervals."""

    subjects: tuple[str, ...]  # screws, pairs as "S1+S2", and "plan" for any failure at all
    rules: tuple[str, ...]  # "any" last
    chance: Floats  # (s, r) share of draws; NaN where a rule has nothing to say
    low: Floats  # (s, r)
    high: Floats  # (s, r)
    draws: int


def wilson(failures: Ints, draws: int) -> tuple[Floats, Floats]:
    """95 % interval of a share of draws.

    Parameters
    ----------
    failures : (...) int array
        Draws that failed.
    draws : int
        All draws, above zero.

    Returns
    -------
    low, high : (...) float arrays

    References
    ----------
    .. [1] Wilson 1927, J Am Stat Assoc 22:209-212 (from memory).
    """
    share = np.clip(np.asarray(failures, dtype=np.float64) / draws, 0.0, 1.0)
    z2 = NORMAL_95**2 / draws
    middle = (share + z2 / 2.0) / (1.0 + z2)
    half = NORMAL_95 / (1.0 + z2) * np.sqrt(share * (1.0 - share) / draws + z2 / (4.0 * draws))
    return np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)


def place(
    hands: Hands,
    ids: tuple[str, ...],
    scatter: Scatter,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> Chances:
    """Put every screw of a plan in many times, as hands would, and count what fails.

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
    The same cast and the same rules as the plan itself; only the screw and the drilled
    depths stay as planned. Errors of different screws are independent.
    """
    n, draws = len(ids), scatter.draws
    axes, depth = scattered(hands.screws.corridors.axes, scatter)
    screw = np.repeat(np.arange(n), draws)
    failed = {rule: np.zeros(n * draws, dtype=np.bool_) for rule in FAILURES}
    ends: list[tuple[Floats, ...]] = []
    for first in range(0, n * draws, BATCH):
        rows = np.arange(first, min(first + BATCH, n * draws))
        put = hands.put_in(axes.take(rows), screw[rows], depth[rows])
        for ruling in hands.rulings(put):
            failed[ruling.rule][rows] |= not_passed(ruling)
        ends.append(_ends(put))
        if progress is not None:
            progress(int(rows[-1]) + 1, n * draws)
    table = np.stack([failed[rule].reshape(n, draws) for rule in FAILURES], axis=1)
    silent = silent_rules(hands)
    meet = _meeting(tuple(np.concatenate(part) for part in zip(*ends, strict=True)), hands, n)
    table &= ~silent[:, :, None]
    return _chances(ids, table, silent, meet, draws)


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
        A column for each of `FAILURES`.
    """
    n = len(hands.screws)
    silent = np.ones((n, len(FAILURES)), dtype=np.bool_)
    for ruling in hands.rulings(hands.screws):
        known = (ruling.verdict != Verdict.UNKNOWN) & (ruling.verdict != DOES_NOT_APPLY)
        silent[:, FAILURES.index(ruling.rule)] &= ~known
    for rule in ("meets_bone", "crosses_fracture"):  # apply to what misses alone
        silent[:, FAILURES.index(rule)] = ~hands.screws.corridors.decided
    return silent


def _ends(screws: Trajectories) -> tuple[Floats, ...]:
    """What is needed to see whether two screws meet."""
    return tuple(array for part in cylinders(screws) for array in part)


def _meeting(ends: tuple[Floats, ...], hands: Hands, n: int) -> Bools:
    """Whether each pair of screws meets in each draw, (pairs, draws)."""
    parts = ((ends[0], ends[1], ends[2]), (ends[3], ends[4], ends[5]))
    draws = len(ends[2]) // n if n else 0
    pairs = list(combinations(range(n), 2))
    meet = np.zeros((len(pairs), draws), dtype=np.bool_)
    for row, (a, b) in enumerate(pairs):
        first, second = (np.arange(k * draws, (k + 1) * draws) for k in (a, b))
        gap = pair_gap(parts, first, second)
        meet[row] = ~(gap >= hands.limits.screw_gap)  # a gap that cannot be told is no pass
    return meet


def _chances(ids: tuple[str, ...], failed: Bools, quiet: Bools, meet: Bools, draws: int) -> Chances:
    """Count failures by screw, by pair, and for the plan as a whole."""
    n, pairs = len(ids), pair_names(ids)
    columns = (*FAILURES, "screw_gap", "any")
    counts = np.full((n + len(pairs) + 1, len(columns)), -1, dtype=np.int64)
    counts[:n, : len(FAILURES)] = np.where(quiet, -1, failed.sum(axis=2))
    counts[:n, -1] = failed.any(axis=1).sum(axis=1)
    counts[n:-1, -2] = counts[n:-1, -1] = meet.sum(axis=1)
    every = failed.any(axis=0).sum(axis=1) if n else np.zeros(len(FAILURES), dtype=np.int64)
    counts[-1, : len(FAILURES)] = np.where(quiet.all(axis=0), -1, every)
    counts[-1, -2] = meet.any(axis=0).sum() if pairs else 0
    counts[-1, -1] = (failed.any(axis=(0, 1)) | meet.any(axis=0)).sum() if n else 0
    low, high = wilson(counts, draws)
    silent = counts < 0
    return Chances(
        subjects=(*ids, *pairs, "plan"),
        rules=columns,
        chance=np.where(silent, np.nan, counts / draws),
        low=np.where(silent, np.nan, low),
        high=np.where(silent, np.nan, high),
        draws=draws,
    )
