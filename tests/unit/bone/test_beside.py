"""Triangles beside segments that have a thickness."""

import numpy as np
import pytest
from lines import random_lines
from specimens import empty, joined, sphere, tube

from trajplan.bone._fallback import FallbackCaster
from trajplan.bone._tree import TreeCaster
from trajplan.geometry import segment_triangle_distance

MESH = joined(sphere(9.0, 2), tube(14.0, 12.0, 40.0, 24))
TRIANGLES = MESH[0][MESH[1]]


def segments(count, seed=3):
    """Short and long, near and far, some along an axis."""
    origin, direction = random_lines(count, seed=seed)
    direction[: count // 4] = np.eye(3)[np.arange(count // 4) % 3]
    rng = np.random.default_rng(seed)
    start = origin + 100.0 * direction + rng.normal(scale=4.0, size=(count, 3))
    return start, start + rng.uniform(0.0, 40.0, (count, 1)) * direction, rng.uniform(0, 5, count)


@pytest.mark.parametrize("engine", [TreeCaster, FallbackCaster])
def test_no_triangle_within_reach_is_left_out(engine):
    start, end, reach = segments(300)
    segment, face = engine(TRIANGLES).beside(start, end, reach)
    near = segment_triangle_distance(start[:, None], end[:, None], TRIANGLES) <= reach[:, None]
    assert 100 < near.any(axis=1).sum() < 300
    found = np.zeros_like(near)
    found[segment, face] = True
    assert not (near & ~found).any()
    assert len(np.unique(segment * len(TRIANGLES) + face)) == len(segment)


def test_boxes_far_off_are_left_alone():
    start, end, reach = segments(300)
    segment, _ = TreeCaster(TRIANGLES).beside(start, end, reach)
    assert len(segment) < 0.15 * len(start) * len(TRIANGLES)
    away = np.tile([500.0, 0.0, 0.0], (3, 1))
    assert len(TreeCaster(TRIANGLES).beside(away, away, np.full(3, 400.0))[0]) == 0


@pytest.mark.parametrize("engine", [TreeCaster, FallbackCaster])
def test_no_segment_and_no_triangle(engine):
    start, end, reach = segments(4)
    assert [len(rows) for rows in engine(TRIANGLES).beside(start[:0], end[:0], reach[:0])] == [0, 0]
    nothing = engine(empty()[0][empty()[1]].reshape(0, 3, 3))
    assert [len(rows) for rows in nothing.beside(start, end, reach)] == [0, 0]
