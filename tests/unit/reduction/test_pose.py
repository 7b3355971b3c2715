"""Movements of fragments: only rigid ones. Rotations of scipy are the outside witness."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from trajplan.errors import PoseError, ShapeError
from trajplan.reduction import Pose


def a_matrix(seed: int) -> np.ndarray:
    """A rigid movement, 4 x 4."""
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.random(random_state=seed).as_matrix()
    matrix[:3, 3] = np.random.default_rng(seed).uniform(-40.0, 40.0, 3)
    return matrix


def test_points_and_directions_move_as_scipy_turns_them() -> None:
    matrix = a_matrix(1)
    points = np.random.default_rng(2).normal(size=(5, 3))
    turn = Rotation.from_matrix(matrix[:3, :3])
    pose = Pose(matrix)
    assert np.allclose(pose.points(points), turn.apply(points) + matrix[:3, 3])
    assert np.allclose(
        pose.directions(points),
        turn.apply(points / np.linalg.norm(points, axis=1, keepdims=True)),
    )


def test_back_undoes_and_after_chains() -> None:
    first, second = Pose(a_matrix(3)), Pose(a_matrix(4))
    assert np.allclose(second.after(first).matrix, second.matrix @ first.matrix)
    assert np.allclose(first.back().after(first).matrix, np.eye(4))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (np.diag([-1.0, 1.0, 1.0, 1.0]), "mirrors"),
        (np.diag([1.001, 1.0, 1.0, 1.0]), "stretches or bends by 0.002"),
        (np.diag([1.0, 1.0, 1.0, 2.0]), "last row"),
        (np.full((4, 4), np.nan), "not finite"),
    ],
)
def test_no_other_movement_is_taken(change: np.ndarray, told: str) -> None:
    with pytest.raises(PoseError, match=told):
        Pose(change @ a_matrix(5))


def test_seven_digits_of_a_file_are_enough() -> None:
    Pose(np.round(a_matrix(6), 7))


def test_a_matrix_of_three_rows_is_refused() -> None:
    with pytest.raises(ShapeError):
        Pose(np.eye(3))


def test_a_pose_cannot_be_changed() -> None:
    matrix = np.eye(4)
    pose = Pose(matrix)
    matrix[0, 3] = 7.0
    assert pose.shift[0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        pose.matrix[0, 3] = 1.0
