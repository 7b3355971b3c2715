"""Planes and frames."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError, ShapeError
from trajplan.geometry import Plane, frames, from_plane, plane_depth, to_plane


def unit_vectors(n=200, seed=0):
    v = np.random.default_rng(seed).normal(size=(n, 3))
    return v / np.linalg.norm(v, axis=1)[:, None]


AXES = np.array([[0, 0, 1], [0, 0, -1], [1, 0, 0], [0, -1, 0], [0, 1e-9, -1]], float)


@pytest.mark.parametrize("w", [unit_vectors(), AXES])
def test_frames_are_right_handed_and_orthonormal(w):
    f = frames(w)
    assert f @ f.transpose(0, 2, 1) == pytest.approx(np.tile(np.eye(3), (len(w), 1, 1)), abs=1e-9)
    assert np.linalg.det(f) == pytest.approx(np.ones(len(w)))
    assert np.array_equal(f[:, 2], w)


def test_frames_of_nothing():
    assert frames(np.empty((0, 3))).shape == (0, 3, 3)


def test_plane_makes_its_normal_a_unit_vector():
    plane = Plane.through([1, 2, 3], [0, 0, -5])
    assert plane.normal == pytest.approx([0, 0, -1])
    assert plane.height(np.array([[9.0, 9.0, 1.0]])) == pytest.approx([2.0])


@pytest.mark.parametrize("normal", [[0, 0, 0], [np.nan, 0, 1], [1e-15, 0, 0]])
def test_plane_refuses_a_normal_without_direction(normal):
    with pytest.raises(DegenerateError):
        Plane.through([0, 0, 0], normal)


def test_plane_refuses_a_wrong_shape():
    with pytest.raises(ShapeError):
        Plane.through([0, 0], [0, 0, 1])


def test_depth_along_lines():
    plane = Plane.through([0, 0, 10], [0, 0, 1])
    origin = np.array([[0, 0, 0], [5, 5, 30], [0, 0, 0], [0, 0, 10.0]])
    direction = np.array([[0, 0, 1], [0, 0, 1], [0, 0.6, 0.8], [1, 0, 0.0]])
    depth = plane_depth(plane, origin, direction)
    assert depth[:3] == pytest.approx([10, -20, 12.5])
    assert np.isnan(depth[3])  # in the plane: everywhere and nowhere


@pytest.mark.parametrize(("sine", "parallel"), [(2e-9, False), (5e-10, True)])
def test_depth_of_all_but_parallel_lines(sine, parallel):
    plane = Plane.through([0, 0, 1], [0, 0, 1])
    direction = np.array([[np.sqrt(1 - sine**2), 0, sine]])
    assert np.isnan(plane_depth(plane, np.zeros((1, 3)), direction)[0]) == parallel


def test_to_and_from_the_plane():
    plane = Plane.through([1, 2, 3], [1, 1, 1])
    flat = np.random.default_rng(0).normal(size=(20, 2))
    points = from_plane(plane, flat)
    assert plane.height(points) == pytest.approx(np.zeros(20), abs=1e-12)
    assert to_plane(plane, points + 4 * plane.normal) == pytest.approx(flat)
    with pytest.raises(ValueError, match="read-only"):
        points[0, 0] = 1
