"""Chances of what may go wrong, with their intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints

__all__ = ["Chances", "wilson"]

#: Two-sided 95 % quantile of the normal distribution.
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Chances of the tries that could be told, with 95 % intervals; NaN: none could be."""

    subjects: tuple[
        str, ...
    ]  # screws, pairs as "screw 1 + screw 2", and "plan" for any screw at all
    rules: tuple[str, ...]  # rules, then "harm", and "less" without harm
    chance: Floats  # (s, r) NaN also where a rule has nothing to say
    low: Floats  # (s, r)
    high: Floats  # (s, r)
    unknown: Floats  # (s,) share of all tries in which nothing failed that could be told
    draws: int

    def of(self, subject: str, rule: str) -> tuple[float, float, float]:
        """One chance and its interval.

        Parameters
        ----------
        subject, rule : str
            Of `subjects` and `rules`.

        Returns
        -------
        chance, low, high : float
        """
        at = self.subjects.index(subject), self.rules.index(rule)
        return float(self.chance[at]), float(self.low[at]), float(self.high[at])


def wilson(failures: Ints, draws: int | Ints) -> tuple[Floats, Floats]:
    """95 % interval of a share of draws.

    Parameters
    ----------
    failures : (...) int array
        Draws that failed.
    draws : int or (...) int array
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
    spread = np.sqrt(share * (1.0 - share) / draws + z2 / (4.0 * np.asarray(draws)))
    half = NORMAL_95 / (1.0 + z2) * spread
    return np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)
