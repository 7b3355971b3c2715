"""Rings round axes and fans round a normal."""

import numpy as np
import pytest

from trajplan.geometry import fan, ring_offsets


def test_ring_is_square_to_its_axis_and_even():
    direction = np.array([[0, 0, 1], [0.6, 0, -0.8]])
    ring = ring_offsets(direction, np.array([2.0, 3.0]), 12)
    assert ring.shape == (2, 12, 3)
    assert np.linalg.norm(ring, axis=2) == pytest.approx(np.repeat([[2.0], [3.0]], 12, axis=1))
    assert np.einsum("nkj,nj->nk", ring, direction) == pytest.approx(np.zeros((2, 12)), abs=1e-12)
    step = np.linalg.norm(np.roll(ring, -1, axis=1) - ring, axis=2)
    assert step[0] == pytest.approx(np.full(12, 4 * np.sin(np.pi / 12)))


def test_ring_of_no_radius_and_of_no_axis():
    assert not ring_offsets(np.array([[0, 0, 1.0]]), np.zeros(1), 8).any()
    assert ring_offsets(np.empty((0, 3)), np.empty(0), 8).shape == (0, 8, 3)


def test_fan_begins_with_the_normal_and_keeps_to_its_cone():
    normal = np.array([0.0, -0.6, 0.8])
    directions = fan(normal[None], 20.0, 200)[0]
    tilt = np.degrees(np.arccos(np.clip(directions @ normal, -1, 1)))
    assert directions[0] == pytest.approx(normal)
    assert np.linalg.norm(directions, axis=1) == pytest.approx(np.ones(200))
    assert tilt.max() == pytest.approx(20.0)
    assert (np.diff(tilt) > 0).all()


def test_fan_is_even_over_the_cap():
    """Equal areas of a cap hold equal numbers: half of it lies within half the height."""
    directions = fan(np.array([[0, 0, 1.0]]), 30.0, 1001)[0]
    middle = 1 - (1 - np.cos(np.radians(30))) / 2
    assert np.count_nonzero(directions[:, 2] > middle) == pytest.approx(500, abs=1)
    assert np.abs(directions[:, :2].mean(axis=0)).max() < 2e-3


def test_fan_of_one_and_of_no_tilt():
    assert fan(np.array([[1.0, 0, 0]]), 20.0, 1) == pytest.approx(np.array([[[1, 0, 0]]]))
    assert fan(np.array([[1.0, 0, 0]]), 0.0, 5) == pytest.approx(np.tile([1, 0, 0], (1, 5, 1)))


def test_each_normal_has_a_fan_of_its_own():
    normals = np.array([[0.0, -0.6, 0.8], [0.0, 0.0, -1.0], [1.0, 0.0, 0.0]])
    for row, directions in enumerate(fan(normals, 15.0, 30)):
        assert directions == pytest.approx(fan(normals[[row]], 15.0, 30)[0], abs=1e-15)
    assert fan(np.empty((0, 3)), 15.0, 7).shape == (0, 7, 3)
