"""The forgiving cone: how far an axis may tilt or shift in every direction and still pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.tolerance._placement import BATCH, RULES, not_passed, silent_rules
from trajplan.tolerance._scatter import turned

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.tolerance._placement import Hands
    from trajplan.tolerance._scatter import Scatter

__all__ = ["Forgiveness", "forgiving"]

#: Directions looked at all round.
AROUND = 16
#: Steps tried at a time at first: most axes fail within these few, and the rest is never cast.
#: Of an axis that passes them, twice as many are tried next: fewer casts, most of them needed.
STRIDE = 4
#: Steps of the search: tilts in degrees, shifts in mm. Past the last an axis forgives more
#: than any hand needs.
TILTS = np.arange(0.5, 15.01, 0.5)
SHIFTS = np.arange(0.25, 5.01, 0.25)


@dataclass(frozen=True, slots=True, eq=False)
class Forgiveness:
    """What ``n`` axes forgive; 0 where the planned axis fails already, NaN where unknown."""

    tilt: Floats  # (n,) degrees, the largest step up to which every direction passes
    shift: Floats  # (n,) mm


def forgiving(
    hands: Hands,
    scatter: Scatter,
    *,
    tilts: Floats = TILTS,
    shifts: Floats = SHIFTS,
    around: int = AROUND,
) -> Forgiveness:
    """Largest tilt and largest shift that pass in every direction round each axis.

    Parameters
    ----------
    hands : Hands
        The plan and what it stands in.
    scatter : Scatter
        The mean of its ``plunge`` is kept; nothing is drawn.
    tilts, shifts : float arrays, degrees and mm
        Steps that are tried, rising.
    around : int
        Directions that are tried all round.

    Returns
    -------
    Forgiveness
        The largest steps that pass; by default in steps of half a degree and a quarter of
        a millimetre.
    """
    amount = np.zeros((2, max(len(tilts), len(shifts))))
    amount[0, : len(tilts)], amount[1, : len(shifts)] = np.radians(tilts), shifts
    given = np.arange(amount.shape[1]) < np.array([[len(tilts)], [len(shifts)]])
    reached = np.zeros((2, len(hands.screws)), dtype=np.int64)
    going = np.broadcast_to(hands.screws.corridors.decided, reached.shape).copy()
    silent = silent_rules(hands)
    first, stride = 0, STRIDE
    while first < amount.shape[1] and going.any():
        some = slice(first, first + stride)
        kind, screw, step = np.nonzero(going[:, :, None] & given[:, None, some])
        passes = np.zeros((*reached.shape, stride), dtype=np.bool_)
        trial = _Trial(kind, screw, amount[kind, first + step], around)
        passes[kind, screw, step] = trial.passes(hands, silent, scatter.plunge)
        run = np.cumprod(passes, axis=2).sum(axis=2)
        reached += run
        going &= run == stride
        first, stride = first + stride, 2 * stride
    known = hands.screws.corridors.decided
    tilt, shift = (
        np.r_[0.0, values][count] for values, count in zip((tilts, shifts), reached, strict=True)
    )
    return Forgiveness(tilt=np.where(known, tilt, np.nan), shift=np.where(known, shift, np.nan))


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """Screws to be put in off their lines, each by one amount in every direction."""

    kind: Ints  # (m,) 0: tilted, 1: shifted
    screw: Ints  # (m,) row of the planned screw
    amount: Floats  # (m,) radians or mm
    around: int

    def passes(self, hands: Hands, silent: Bools, plunge: float) -> Bools:
        """Whether every direction passes, (m,)."""
        each = max(BATCH // self.around, 1)
        parts = [
            self._passes(slice(first, first + each), hands, silent, plunge)
            for first in range(0, len(self.screw), each)
        ]
        return np.concatenate([np.zeros(0, dtype=np.bool_), *parts])

    def _passes(self, some: slice, hands: Hands, silent: Bools, plunge: float) -> Bools:
        angle = 2.0 * np.pi * np.arange(self.around) / self.around
        off = self.amount[some, None, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        tilted = (self.kind[some] == 0)[:, None, None]
        planned = hands.screws.corridors.axes.take(self.screw[some])
        axes = turned(planned, np.where(tilted, 0.0, off), np.where(tilted, off, 0.0))
        screw = np.repeat(self.screw[some], self.around)
        put = hands.put_in(axes, screw, np.full(len(screw), plunge))
        failed: Bools = np.zeros(len(screw), dtype=np.bool_)
        for ruling in hands.rulings(put):
            failed |= not_passed(ruling) & ~silent[screw, RULES.index(ruling.rule)]
        fails: Bools = np.logical_or.reduce(failed.reshape(-1, self.around), axis=1)
        return ~fails
