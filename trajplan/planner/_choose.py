"""Choosing screws together: the best compatible set, found exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints

__all__ = ["POOL_SIZES", "best_set", "pool"]

#: Candidates that the exact search looks at, by number of screws wanted: pairs are cheap,
#: larger sets grow fast. On the demonstration and on a real femur the best pair of 900 is
#: always among the first 100, whose rows hold the best of every place.
POOL_SIZES = {1: 250, 2: 250, 3: 200, 4: 100, 5: 70, 6: 60}


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
    Depth-first branch and bound down to the last two, which are chosen from all pairs at
    once: a branch is cut where the sum so far, plus the best that the candidates left could
    still add, cannot beat the best set known. Exact.
    """
    pairs = max(count * (count - 1) // 2, 1)
    search = _Search(score, pair * (count / pairs), count)
    none = np.array([], dtype=np.int64)
    if count == 1:
        search.keep(none, 0.0, score, np.arange(len(score))[:, None])
    else:
        search.branch(none, 0.0, score, 0)
    return search.rows, search.value


class _Search:
    """State of one branch-and-bound search."""

    def __init__(self, score: Floats, pair: Floats, count: int) -> None:
        self.pair, self.count = pair, count
        self.pair_most = float(np.max(pair, initial=0.0))
        self.two = np.stack(np.triu_indices(len(score), 1), axis=1)  # i < j, in order
        self.starts = np.r_[0, np.cumsum(np.arange(len(score) - 1, 0, -1))]  # of each i in it
        self.pair_of_two = pair[self.two[:, 0], self.two[:, 1]]
        self.rows: Ints = np.array([], dtype=np.int64)
        self.value = -np.inf

    def keep(self, chosen: Ints, value: float, gain: Floats, last: Ints) -> None:
        """Complete a set by the best of the ``last`` that are offered, the first of equals."""
        most = value + np.max(gain, initial=-np.inf)
        if most > self.value + TIE:
            best = int(np.argmax(value + gain >= most - TIE))
            self.rows, self.value = np.append(chosen, last[best]), float(value + gain[best])

    def branch(self, chosen: Ints, value: float, gain: Floats, first: int) -> None:
        """Try every candidate from ``first`` on as the next; ``gain`` is what each adds."""
        left = self.count - len(chosen)
        if left == 2:
            begin = self.starts[first] if first < len(gain) else len(self.two)
            two = self.two[begin:]
            both = gain[two[:, 0]] + gain[two[:, 1]] + self.pair_of_two[begin:]
            self.keep(chosen, value, both, two)
            return
        # Each of the others may still gain its pairs with the members that are to come.
        later_pairs = left * (left - 1) // 2 * self.pair_most
        best_after = np.r_[np.maximum.accumulate(gain[:0:-1])[::-1], -np.inf]
        most = value + gain + (left - 1) * best_after + later_pairs
        for row in range(first, len(gain)):
            if most[row] > self.value + TIE:
                more = gain + self.pair[row]
                self.branch(np.append(chosen, row), value + float(gain[row]), more, row + 1)


#: Sets whose values differ by less than this are equal: rounding must not pick the winner.
TIE = 1e-9
