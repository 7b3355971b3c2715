"""Pairs of segments, and of segments and triangles."""

import numpy as np
import pytest

from trajplan.geometry import (
    segment_segment_distance,
    segment_triangle_distance,
)

CASES = {
    "crossing at a height": ([0, 0, 0], [10, 0, 0], [5, -5, 3], [5, 5, 3], 3),
    "meeting": ([0, 0, 0], [10, 0, 0], [5, -5, 0], [5, 5, 0], 0),
    "end to inside": ([0, 0, 0], [10, 0, 0], [5, 4, 0], [5, 9, 0], 4),
    "end to end": ([0, 0, 0], [10, 0, 0], [13, 4, 0], [20, 9, 0], 5),
    "parallel, side by side": ([0, 0, 0], [10, 0, 0], [3, 2, 0], [6, 2, 0], 2),
    "parallel, apart": ([0, 0, 0], [10, 0, 0], [13, 4, 0], [20, 4, 0], 5),
    "opposite": ([0, 0, 0], [10, 0, 0], [6, 2, 0], [3, 2, 0], 2),
    "on one line": ([0, 0, 0], [10, 0, 0], [17, 0, 0], [12, 0, 0], 2),
    "the same": ([0, 0, 0], [10, 0, 0], [0, 0, 0], [10, 0, 0], 0),
    "point and segment": ([5, 3, 0], [5, 3, 0], [0, 0, 0], [10, 0, 0], 3),
    "segment and point": ([0, 0, 0], [10, 0, 0], [13, 4, 0], [13, 4, 0], 5),
    "two points": ([0, 0, 0], [0, 0, 0], [2, 3, 6], [2, 3, 6], 7),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_segments(case):
    p, q, a, b = (np.array([x], float) for x in case[:4])
    for args in ((p, q, a, b), (q, p, a, b), (a, b, p, q), (p, q, b, a)):
        assert segment_segment_distance(*args) == pytest.approx([case[4]], abs=1e-12)


@pytest.mark.parametrize("slope", [1e-3, 1e-6, 2e-7, 9e-8, 1e-9])
def test_all_but_parallel_segments_take_the_converging_end(slope):
    """Over 100 mm they close in by 100 times the slope, which must not be lost."""
    p, q = np.array([[0, 0, 0.0]]), np.array([[100, 0, 0.0]])
    a, b = np.array([[0, 1, 0.0]]), np.array([[100, 1 - 100 * slope, 0]])
    near = segment_segment_distance(p, q, a, b)[0]
    assert near == pytest.approx(1 - 100 * slope, abs=1e-12)
    assert segment_segment_distance(q, p, a, b)[0] == pytest.approx(near, abs=1e-12)


TRIANGLE = np.array([[[0, 0, 0], [10, 0, 0], [0, 10, 0]]], float)
TRIANGLE_CASES = {
    "over the face": ([2, 2, 3], [2, 2, 9], 3),
    "under the face": ([2, 2, -3], [3, 2, -9], 3),
    "pierces": ([2, 2, -1], [2, 2, 1], 0),
    "ends on the face": ([2, 2, 0], [2, 2, 5], 0),
    "lies in the face": ([1, 1, 0], [2, 3, 0], 0),
    "in its plane, beside it": ([12, 0, 0], [15, 5, 0], 2),
    "across it in its plane": ([-5, 2, 0], [15, 2, 0], 0),
    "through an edge": ([5, 0, -1], [5, 0, 1], 0),
    "through a corner": ([10, 0, -1], [10, 0, 1], 0),
    "past an edge": ([5, -3, -9], [5, -3, 9], 3),
    "past a corner": ([13, -4, -9], [13, -4, 9], 5),
    "parallel over the face": ([1, 1, 2], [4, 3, 2], 2),
    "a point": ([2, 2, 7], [2, 2, 7], 7),
}


@pytest.mark.parametrize("case", TRIANGLE_CASES.values(), ids=TRIANGLE_CASES)
def test_segment_and_triangle(case):
    p, q = np.array([case[0]], float), np.array([case[1]], float)
    for turned in (TRIANGLE, TRIANGLE[:, ::-1], np.roll(TRIANGLE, 1, axis=1)):
        assert segment_triangle_distance(p, q, turned) == pytest.approx([case[2]], abs=1e-12)
        assert segment_triangle_distance(q, p, turned) == pytest.approx([case[2]], abs=1e-12)


def test_collinear_triangle_counts_as_its_edges():
    """The normal of such a triangle is rounding, and once let the whole line count as face."""
    rng = np.random.default_rng(0)
    t = np.array([1 / 3, 1 / 7, 1 / 11])
    for s in rng.uniform(-40, 40, (50, 3)):
        low, high = s.min(), s.max()
        p = t * rng.uniform(high + 5, high + 50, (20, 1))
        q = p + t
        got = segment_triangle_distance(p, q, (s[:, None] * t)[None])
        want = np.linalg.norm(p - high * t, axis=1)
        assert got == pytest.approx(want, abs=1e-9), (low, high)


def test_arrays_broadcast():
    p = np.zeros((4, 1, 3))
    q = np.ones((4, 1, 3))
    assert segment_triangle_distance(p, q, np.repeat(TRIANGLE, 5, axis=0)).shape == (4, 5)
    assert segment_segment_distance(p, q, np.zeros((5, 3)), np.ones((5, 3))).shape == (4, 5)
    none = np.empty((0, 3))
    assert segment_triangle_distance(none, none, np.empty((0, 3, 3))).shape == (0,)
