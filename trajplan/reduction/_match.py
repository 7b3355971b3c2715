"""Two fragments: the best poses of one against the other, each of another kind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.reduction._coarse import (
    FEW,
    GRID,
    Starts,
    by_shaft,
    by_shape,
    drawn,
    joined_starts,
    slid_along,
    turned,
)
from trajplan.reduction._fine import Fit, Weights, apart, turned_by
from trajplan.reduction._samples import inverse, moved

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3
    from trajplan.reduction._pair import Pair, Score

__all__ = ["FINE", "Prior", "Ranked", "match", "rank"]

#: Poses that are first fitted roughly, for each that is then fitted well.
ROUGH = 3
#: Poses that are fitted well.
BEST = 8
#: mm at the fracture: poses nearer than this are of one kind, before and after the fine fit.
SAME_START, SAME = 2.0, 1.5
#: degrees between the axes of two ends at the break. A smooth oblique break fits nearly as well
#: turned about its own normal, and the shaft would then have a kink that no bone has (measured: a
#: femur, turned by 57 degrees, kinked by 37). Axes are told to 10 degrees where a bone is bent.
MOST_KINK = 30.0
#: Drawn poses that are scored, and samples of each break and wall that this takes.
SCORED, SKETCH = 200, 150
#: Samples of each break and wall that the rough fit uses.
THIN = 400
#: The same for the fine fit; the best is fitted again with all.
FINE = 700
SHORT, LONG = Weights(rounds=10), Weights(rounds=30)


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """How far a fragment may have moved from where it belongs."""

    turn: float  # degrees
    shift: float  # mm
    # poses of the fragments that stand: it is enough to have kept near one of them, for the
    # largest, which all is worked out against, may be the one that was displaced
    standing: tuple[Floats, ...] = ()

    def allows(self, pose: Floats, about: Vec3) -> bool:
        """Whether a pose keeps within it; the shift is that of a point, (3,) mm."""
        return any(
            self._keeps(inverse(stood) @ pose, about) for stood in self.standing or (np.eye(4),)
        )

    def _keeps(self, pose: Floats, about: Vec3) -> bool:
        way = float(np.linalg.norm(moved(pose, about[None])[0] - about))
        return turned_by(pose) <= self.turn and way <= self.shift

    def turns(self, step: float) -> Floats:
        """Turns spread over what it allows, (k, 3, 3)."""
        spread = turned(self.turn, step)
        return np.concatenate([stood[:3, :3] @ spread for stood in self.standing or (np.eye(4),)])


@dataclass(frozen=True, slots=True, eq=False)
class Ranked:
    """A fitted pose and its score."""

    fit: Fit
    score: Score

    @property
    def pose(self) -> Floats:
        """The pose, (4, 4) mm."""
        return self.fit.pose


def match(pair: Pair, prior: Prior, given: Sequence[Starts] = ()) -> list[Ranked]:
    """Find poses of the moving fragment of a pair.

    Parameters
    ----------
    pair : Pair
        Standing and moving fragment.
    prior : Prior
        How far it may have moved.
    given : sequence of Starts
        Starts from hints or a template.

    Returns
    -------
    list of Ranked
        Best first, of different kinds; empty where nothing fits.
    """
    a, b = pair.standing, pair.moving
    rotations = np.concatenate([by_shaft(a, b), by_shape(a, b), prior.turns(GRID)])
    goals = a.break_middle[None]
    groups = [joined_starts(rotations, goals, b.break_middle, 0.7)]
    groups += [*slid_along(pair), *given]
    return rank(pair, groups, prior)


def rank(
    pair: Pair, groups: list[Starts], prior: Prior, best: int = BEST, few: int = FEW
) -> list[Ranked]:
    """Draw starts in, fit the most promising, and order them by their score."""
    middle, arm = pair.middle, _arm(pair)
    kept: list[Floats] = []
    for pose in _promising(pair, groups, prior, few):
        if _new(pose, kept, middle, arm, SAME_START):
            kept.append(pose)
        if len(kept) == ROUGH * best:
            break
    thin = pair.thinned(THIN)
    rough = [fit for pose in kept if (fit := Fit.of(thin, pose, SHORT)) is not None]
    enough = pair.thinned(FINE)
    kinds: list[Floats] = []
    done: list[Ranked] = []
    for fit in sorted(rough, key=lambda fit: -thin.score(fit.pose).value):
        if len(kinds) == best:
            break
        if not _new(fit.pose, kinds, middle, arm, SAME):
            continue
        kinds.append(fit.pose)
        fine = Fit.of(enough, fit.pose, LONG)
        if fine is None or not _may_be(pair, fine.pose, prior):
            continue
        if _new(fine.pose, [other.pose for other in done], middle, arm, SAME):
            done.append(Ranked(fine, pair.score(fine.pose)))
    return sorted(done, key=lambda ranked: -ranked.score.value)


def _may_be(pair: Pair, pose: Floats, prior: Prior) -> bool:
    """Whether a pose keeps within the prior, and the shaft runs on without a kink."""
    a, b = pair.standing.shaft, pair.moving.shaft
    if a is not None and b is not None:
        runs_on = -float(a.axis @ (pose[:3, :3] @ b.axis))
        if runs_on < np.cos(np.radians(MOST_KINK)):
            return False
    return prior.allows(pose, pair.middle)


def _promising(pair: Pair, groups: list[Starts], prior: Prior, few: int) -> list[Floats]:
    """Drawn poses within the prior, best first.

    By their score: the share of samples that found a partner is greatest where two ends are
    pushed into the room of a missing wedge.
    """
    poses, share = drawn(pair, groups, few)
    order = np.argsort(-share, kind="stable")
    some = [poses[row] for row in order if _may_be(pair, poses[row], prior)][:SCORED]
    thin = pair.thinned(SKETCH)
    values = [thin.score(pose).value for pose in some]
    return [some[row] for row in np.argsort(-np.array(values), kind="stable")]


def _arm(pair: Pair) -> float:
    """Half width of the moving break, mm: what turns a turn into millimetres."""
    return max(5.0, float(np.sqrt(pair.moving.break_area / 3.0)))


def _new(pose: Floats, others: list[Floats], about: Vec3, arm: float, least: float) -> bool:
    for other in others:
        way = apart(pose, other, about)
        if np.linalg.norm(way[:3]) * arm + np.linalg.norm(way[3:]) <= least:
            return False
    return True
