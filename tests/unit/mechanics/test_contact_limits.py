"""Contact at its limits: no equilibrium, no surface, one line, curved surfaces, bad numbers."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError, ShapeError
from trajplan.mechanics import solve_contact

UP = [[0.0, 0.0, 1.0]]


def grid(half=5.0, count=11):
    x, y = np.meshgrid(*[np.linspace(-half, half, count)] * 2)
    points = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    return points, np.full(len(points), (2 * half / count) ** 2)


def press(force, at, **more):
    points, areas = grid()
    return solve_contact(points, UP, areas, [force], [at], **more)


@pytest.mark.parametrize(
    ("force", "at"),
    [
        ([0, 0, 100], [5.5, 0, 0]),  # beside the region
        ([0, 0, 100], [80, -3, 0]),
        ([0, 0, -100], [0, 0, 0]),  # pulls the fragments apart
    ],
)
def test_no_equilibrium_gives_no_number(force, at):
    found = press(force, at)
    assert not found.converged
    assert not found.balanced
    assert np.isnan(found.pressure).all()
    assert np.isnan(found.gap).all()
    assert np.isnan([found.mean, found.peak, found.share, found.area]).all()


def test_beside_but_held_by_a_second_screw():
    points, areas = grid()
    found = solve_contact(points, UP, areas, [[0, 0, 100], [0, 0, 100]], [[7, 0, 0], [-7, 0, 0]])
    assert found.converged
    assert found.share == pytest.approx(1.0)


def test_last_points_of_a_corner_are_called_coarse():
    found = press([0, 0, 100], [4.9, 4.9, 0])
    assert found.converged
    assert found.coarse
    assert not press([0, 0, 100], [0, 0, 0]).coarse


def test_shear_and_torsion_are_left_to_friction():
    found = press([30, 0, 100], [0, 2, 0])
    assert found.converged
    assert found.carried.force == pytest.approx([30, 0, 0])
    assert found.carried.moment == pytest.approx([0, 0, -60])


def test_gap_shrinks_with_stiffness_pressure_does_not_care():
    soft, hard = (press([0, 0, 100], [4, 0, 0], stiffness=k) for k in (1.0, 50.0))
    assert soft.pressure == pytest.approx(hard.pressure)
    assert soft.gap == pytest.approx(50 * hard.gap)
    assert soft.gap.max() > 0
    assert not ((soft.gap > 0) & soft.touching).any()


def test_stiffness_may_differ_over_the_surface():
    points, areas = grid()
    stiff = np.where(points[:, 0] > 0, 2.0, 1.0)
    even = solve_contact(
        points, UP, areas, [[0, 0, 100]], [stiff @ points / stiff.sum()], stiffness=stiff
    )
    assert even.pressure / stiff == pytest.approx(np.full(len(areas), even.pressure[0] / stiff[0]))


def test_free_moment_is_a_shifted_force():
    shifted, turned = (
        press([0, 0, 100], [0, 1, 0]),
        press([0, 0, 100], [0, 0, 0], moment=[100, 0, 0]),
    )
    assert shifted.pressure == pytest.approx(turned.pressure)


def test_no_load_presses_nowhere():
    found = press([0, 0, 0], [0, 0, 0])
    assert found.area == 0.0
    assert np.isnan(found.mean)


def test_curved_surface_bears_shear():
    """A groove of two slopes at 45 degrees takes a force across it; along it, friction."""
    points, areas = grid(count=12)
    slope = np.where(points[:, :1] > 0, [[-1.0, 0, 1]], [[1.0, 0, 1]])
    points[:, 2] = np.abs(points[:, 0])
    found = solve_contact(points, slope, areas, [[20, 7, 100]], [[0, 0, 2.5]])
    assert found.converged
    push = (found.pressure * areas) @ (slope / np.sqrt(2))
    assert push == pytest.approx([20, 0, 100])
    assert found.carried.force == pytest.approx([0, 7, 0], abs=1e-9)


def test_rough_plane_does_not_interlock():
    points, areas = grid()
    normals = np.random.default_rng(1).normal([0, 0, 1], 0.03, (len(points), 3))
    found = solve_contact(points, normals, areas, [[20, 0, 100]], [[0, 0, 0]])
    assert found.carried.force[0] == pytest.approx(20, abs=2)
    assert found.peak < 3 * found.mean


POINTS, AREAS = grid()


@pytest.mark.parametrize(
    ("args", "error"),
    [
        ((np.empty((0, 3)), UP, [], [[0, 0, 1]], [[0, 0, 0]]), DegenerateError),
        ((POINTS[:11], UP, AREAS[:11], [[0, 0, 1]], [[0, 0, 0]]), DegenerateError),
        ((POINTS[:1], UP, AREAS[:1], [[0, 0, 1]], [[0, 0, 0]]), DegenerateError),
        ((POINTS * np.nan, UP, AREAS, [[0, 0, 1]], [[0, 0, 0]]), DegenerateError),
        ((POINTS, UP, -AREAS, [[0, 0, 1]], [[0, 0, 0]]), DegenerateError),
        ((POINTS, UP, AREAS, [[0, 0, np.nan]], [[0, 0, 0]]), DegenerateError),
        ((POINTS, UP, AREAS[:3], [[0, 0, 1]], [[0, 0, 0]]), ShapeError),
        ((POINTS, UP * 2, AREAS, [[0, 0, 1]], [[0, 0, 0]]), ShapeError),
        ((POINTS, UP, AREAS, [[0, 0, 1]] * 2, [[0, 0, 0]]), ShapeError),
    ],
)
def test_bad_input(args, error):
    with pytest.raises(error):
        solve_contact(*args)


def test_stiffness_of_nothing():
    with pytest.raises(DegenerateError, match="stiffness"):
        press([0, 0, 1], [0, 0, 0], stiffness=0.0)


def test_opposed_normals():
    points, areas = grid(count=10)
    normals = np.where(points[:, :1] > 0, UP, -np.array(UP))
    with pytest.raises(DegenerateError, match="cancel"):
        solve_contact(points, normals, areas, [[0, 0, 1]], [[0, 0, 0]])
