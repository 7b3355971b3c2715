"""The order in which passages are swept, against the general sort of numpy."""

import numpy as np
import pytest

from trajplan.bone import _spans
from trajplan.bone._spans import _sorted


def rows(seed, sizes):
    """Passages of lines, two shells after one another in each."""
    rng = np.random.default_rng(seed)
    key = np.repeat(np.arange(len(sizes)), sizes)
    return key, rng.uniform(0.0, 50.0, len(key)), rng.choice([-1, 0, 1], len(key))


MIXED = np.resize([0, 2, 4, 4, 6, 1], 200)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("order", ["in order", "touching", "out of order", "one is long"])
def test_rows_are_put_in_the_order_of_a_general_sort(monkeypatch, seed, order):
    monkeypatch.setattr(_spans, "MANY", 10)
    key, depth, count = rows(seed, [*MIXED, 3000] if order == "one is long" else MIXED)
    if order == "touching":
        depth = np.round(depth / 10.0)  # many of the same depth: `count` decides
    if order == "out of order":
        key = key[::-1].copy()
    found = _sorted(key, depth, count)
    expected = np.lexsort((count, depth, key))
    assert (depth[found] == depth[expected]).all()
    assert (found == expected).all()


@pytest.mark.parametrize("number", [0, 1, 2])
def test_few_rows_are_sorted_too(number):
    key, depth, count = rows(0, [number])
    assert (_sorted(key, depth, count) == np.argsort(depth)).all()
