"""The forgiving cone: how far an axis may tilt or shift in every direction and still pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.tolerance._placement import BATCH, FAILURES, not_passed, silent_rules
from trajplan.tolerance._scatter import turned

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.tolerance._placement import Hands
    from trajplan.tolerance._scatter import Scatter
    from trajplan.trajectory import Axes

__all__ = ["Forgiveness", "forgiving"]

#: Directions looked at all round.
AROUND = 16
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
        Its ``aim`` of the gliding hole is kept; nothing is drawn.
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
    axes = hands.screws.corridors.axes
    angle = 2.0 * np.pi * np.arange(around) / around
    round_about = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    tilt = _wide((np.radians(tilts)[:, None, None] * round_about).reshape(-1, 2), len(axes))
    shift = _wide((shifts[:, None, None] * round_about).reshape(-1, 2), len(axes))
    tilted = turned(axes, np.zeros_like(tilt), tilt)
    shifted = turned(axes, shift, np.zeros_like(shift))
    return Forgiveness(
        tilt=_largest(hands, tilted, tilts, scatter.aim),
        shift=_largest(hands, shifted, shifts, scatter.aim),
    )


def _wide(steps: Floats, n: int) -> Floats:
    return np.broadcast_to(steps, (n, *steps.shape))


def _largest(hands: Hands, axes: Axes, steps: Floats, aim: float) -> Floats:
    """Last step up to which every direction of every smaller step passes too."""
    n = len(hands.screws)
    each = len(axes) // n if n else 0
    passes = np.zeros(n * each, dtype=np.bool_)
    screw = np.repeat(np.arange(n), each)
    silent = silent_rules(hands)
    for first in range(0, n * each, BATCH):
        rows = np.arange(first, min(first + BATCH, n * each))
        put = hands.put_in(axes.take(rows), screw[rows], np.full(len(rows), aim))
        failed: Bools = np.zeros(len(rows), dtype=np.bool_)
        for ruling in hands.rulings(put):
            quiet = silent[screw[rows], FAILURES.index(ruling.rule)]
            failed |= not_passed(ruling) & ~quiet
        passes[rows] = ~failed
    good = passes.reshape(n, len(steps), each // len(steps)).all(axis=2)
    count = np.cumprod(good, axis=1).sum(axis=1)
    largest: Floats = np.concatenate([[0.0], steps])[count]
    return np.where(hands.screws.corridors.decided, largest, np.nan)
