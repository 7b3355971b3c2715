"""Choosing screws together: the best compatible set, found exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints

__all__ = ["best_set", "pool"]

#: Candidates that the exact search looks at, by number of screws wanted: pairs are cheap,
#: larger sets grow fast.
POOL_SIZES = {1: 400, 2: 400, 3: 200, 4: 100, 5: 70, 6: 60}


def pool(score: Floats, place: Ints, count: int) -> Ints:
    """Rows of the candidates that the search looks at: the best of every place first.

    Parameters
    ----------
    score : (n,) float array
        Scores.
    place : (n,) int array
        Place on the fracture that each candidate belongs to.
    count : int
        Screws wanted.

    Returns
    -------
    (m,) int array
        At most ``POOL_SIZES[count]`` rows. Every place's best comes before any place's
        second best, so that the search keeps room to spread.
    """
    order = np.lexsort((np.arange(len(score)), -score, place))
    sorted_place = place[order]
    starts = np.flatnonzero(np.r_[True, sorted_place[1:] != sorted_place[:-1]][: len(order)])
    rank = np.arange(len(order)) - np.repeat(starts, np.diff(np.r_[starts, len(order)]))
    by_round = np.lexsort((order, -score[order], rank))
    return order[by_round][: POOL_SIZES[count]]


def best_set(score: Floats, pair: Floats, count: int) -> tuple[Ints, float]:
    """Best set of ``count`` candidates that are compatible two by two.

    Parameters
    ----------
    score : (m,) float array
        Score of each candidate.
    pair : (m, m) float array
        What each pair adds; minus infinity where two may not stand together.
    count : int
        Size of the set.

    Returns
    -------
    rows : (count,) int array
        Empty where no compatible set exists. Of equal sets, the first in order.
    value : float
        Sum of the scores, plus the mean over pairs times ``count``.

    Notes
    -----
    Depth-first branch and bound: a branch is cut where the sum so far, plus the best that
    every candidate left could still add, cannot beat the best set known. Exact.
    """
    pairs = max(count * (count - 1) // 2, 1)
    search = _Search(score, pair * (count / pairs), count)
    if count == 1:
        search.close(np.array([], dtype=np.int64), 0.0, score)
    else:
        search.branch(np.array([], dtype=np.int64), 0.0, score.copy(), -1)
    return search.rows, search.value


class _Search:
    """State of one branch-and-bound search."""

    def __init__(self, score: Floats, pair: Floats, count: int) -> None:
        self.score, self.pair, self.count = score, pair, count
        best_pair = np.max(pair, initial=0.0)
        self.pair_most = max(float(best_pair), 0.0)
        self.rows: Ints = np.array([], dtype=np.int64)
        self.value = -np.inf

    def close(self, chosen: Ints, value: float, gain: Floats) -> None:
        """Add the best last candidate."""
        if len(gain) == 0:
            return
        last = int(np.argmax(gain))
        total = value + float(gain[last])
        if total > self.value + TIE:
            self.rows, self.value = np.sort(np.append(chosen, last)), total

    def branch(self, chosen: Ints, value: float, gain: Floats, after: int) -> None:
        """Try every candidate after ``after`` as the next one; ``gain`` is what each adds."""
        left = self.count - len(chosen)
        if left == 1:
            blocked = gain.copy()
            blocked[: after + 1] = -np.inf
            self.close(chosen, value, blocked)
            return
        # Each of the others may still gain its pairs with the members that are to come.
        later_pairs = left * (left - 1) // 2 * self.pair_most
        open_rows = np.arange(after + 1, len(gain))
        for row in open_rows[np.isfinite(gain[after + 1 :])]:
            rest = np.sort(gain[row + 1 :])[::-1][: left - 1]
            if len(rest) < left - 1:
                return
            if value + gain[row] + rest.sum() + later_pairs <= self.value + TIE:
                continue
            self.branch(
                np.append(chosen, row), value + float(gain[row]), gain + self.pair[row], int(row)
            )


#: Sets whose values differ by less than this are equal: rounding must not pick the winner.
TIE = 1e-9
