"""The best set of screws, against every combination there is."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trajplan.planner import best_set
from trajplan.planner._choose import POOL_SIZES, pool

ROUND = st.integers(-4, 8).map(lambda n: n / 4)  # coarse, so that ties are common
MAYBE = st.one_of(ROUND, st.just(-np.inf))


def worth(score, pair, rows):
    """Sum of the scores, plus the mean over pairs times the size of the set."""
    pairs = [pair[a, b] for a, b in combinations(rows, 2)]
    spread = len(rows) * np.mean(pairs) if pairs else 0.0
    return sum(score[i] for i in rows) + spread


@st.composite
def problems(draw):
    n, count = draw(st.integers(0, 7)), draw(st.integers(1, 4))
    score = np.array(draw(st.lists(ROUND, min_size=n, max_size=n)), dtype=float)
    pair = np.zeros((n, n))
    for a, b in combinations(range(n), 2):
        pair[a, b] = pair[b, a] = draw(MAYBE)
    return score, pair, count


@given(problems())
@settings(max_examples=300, deadline=None)
def test_against_every_combination(problem):
    score, pair, count = problem
    values = {rows: worth(score, pair, rows) for rows in combinations(range(len(score)), count)}
    possible = {rows: value for rows, value in values.items() if np.isfinite(value)}
    rows, value = best_set(score, pair, count)
    if not possible:
        assert len(rows) == 0
        return
    best = max(possible.values())
    first = next(rows for rows, v in possible.items() if v > best - 1e-9)
    assert value == pytest.approx(best)
    assert tuple(rows.tolist()) == first  # of equal sets, the first in order


def test_two_that_may_not_stand_together():
    score = np.array([1.0, 0.9, 0.1])
    pair = np.zeros((3, 3))
    pair[0, 1] = pair[1, 0] = -np.inf
    assert best_set(score, pair, 2)[0].tolist() == [0, 2]
    assert best_set(score, np.full((3, 3), -np.inf), 2)[0].tolist() == []


def test_spread_may_outweigh_the_scores():
    score = np.array([1.0, 0.9, 0.5])
    pair = np.zeros((3, 3))
    pair[0, 2] = pair[2, 0] = 0.5
    assert best_set(score, pair, 2)[0].tolist() == [0, 2]


def test_the_pool_takes_the_best_of_every_place_first():
    place = np.repeat(np.arange(150), 10)
    score = np.random.default_rng(0).random(1500)
    rows = pool(score, place, 3)
    assert len(rows) == POOL_SIZES[3]
    best = {int(p): int(np.flatnonzero(place == p)[score[place == p].argmax()]) for p in place}
    assert set(rows[:150].tolist()) == set(best.values())
    assert (np.diff(score[rows[:150]]) <= 0).all()
    assert (np.diff(score[rows[150:]]) <= 0).all()
    assert len(set(rows.tolist())) == len(rows)


def test_one_place_and_no_place():
    score = np.array([0.2, 0.9, 0.5])
    assert pool(score, np.zeros(3, dtype=np.int64), 2).tolist() == [1, 2, 0]
    assert pool(np.empty(0), np.empty(0, dtype=np.int64), 2).tolist() == []
