"""Plane fit: what it answers, and what it refuses."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError, ShapeError
from trajplan.geometry import fit_plane


def grid(n=6, step=5.0):
    x, y = np.meshgrid(np.arange(n) * step, np.arange(n) * step)
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(n * n)])


def test_exact_points():
    fit = fit_plane(grid())
    assert fit.plane.normal == pytest.approx([0, 0, 1])
    assert fit.plane.point == pytest.approx([12.5, 12.5, 0])
    assert (fit.rms, fit.largest, fit.normal_bound) == pytest.approx((0, 0, 0), abs=1e-9)
    assert fit.inliers.all()


def test_three_points_fit_but_tell_nothing_of_their_error():
    fit = fit_plane([[0, 0, 0], [1, 0, 0], [0, 1, 0]])
    assert fit.rms == pytest.approx(0, abs=1e-12)
    assert fit.normal_bound == 90.0


@pytest.mark.parametrize("height", [0.5, 5.0, 500.0])
def test_gross_points_do_not_count(height):
    points = grid()
    points[:, 2] += 0.05 * np.random.default_rng(0).normal(size=36)
    wrong = [3, 17, 20, 35]
    points[wrong, 2] += height
    fit = fit_plane(points)
    assert np.array_equal(np.flatnonzero(~fit.inliers), wrong)
    assert fit.largest < 0.2
    assert fit.heights[wrong] == pytest.approx(np.full(4, height), abs=0.3 + 0.02 * height)


def test_one_wrong_pick_among_seven():
    angle = np.arange(7) * 2 * np.pi / 7
    points = np.column_stack([12 * np.cos(angle), 12 * np.sin(angle), 0.01 * np.sin(3 * angle)])
    points[2, 2] += 15
    fit = fit_plane(points)
    assert np.flatnonzero(~fit.inliers).tolist() == [2]
    assert fit.plane.normal == pytest.approx([0, 0, 1], abs=0.01)


def test_six_points_are_too_few_to_outvote_one():
    points = grid()[[0, 5, 30, 35, 14, 21]]
    points[0, 2] = 3
    assert fit_plane(points).inliers.all()


def test_weights_draw_the_plane():
    points = np.array([[0, 0, 0], [10, 0, 0], [10, 10, 1], [0, 10, 1], [5, 5, 9.0]])
    light = fit_plane(points, [1, 1, 1, 1, 1e-9])
    normal = np.array([0, -0.1, 1]) / np.hypot(0.1, 1)
    assert light.plane.normal == pytest.approx(normal, abs=1e-6)
    assert fit_plane(points, [1, 1, 1, 1, 0]).inliers.tolist() == [True] * 4 + [False]


def test_weights_scale_freely():
    rng = np.random.default_rng(1)
    points, weights = rng.normal(size=(30, 3)) * [20, 10, 0.5], rng.uniform(1, 3, 30)
    one, other = fit_plane(points, weights), fit_plane(points, 1000 * weights)
    assert one.plane.normal == pytest.approx(other.plane.normal, abs=1e-12)
    assert one.normal_bound == pytest.approx(other.normal_bound)


def test_like_neighbours_widen_the_bound():
    """A ripple, whose neighbours are alike, tells less than as much independent noise."""
    points = grid(20, 1.0)
    neighbours = np.array([[i, i + 1] for i in range(399) if i % 20 != 19])
    ripple, noise = points.copy(), points.copy()
    ripple[:, 2] = 0.3 * np.sin(points[:, 0])
    noise[:, 2] = 0.2 * np.random.default_rng(0).normal(size=400)
    alone = fit_plane(ripple).normal_bound
    assert fit_plane(ripple, edges=neighbours).normal_bound > 2 * alone
    bounds = fit_plane(noise).normal_bound, fit_plane(noise, edges=neighbours).normal_bound
    assert bounds[1] == pytest.approx(bounds[0], rel=0.25)


def test_a_far_away_frame_changes_nothing():
    points = np.random.default_rng(2).normal(size=(50, 3)) * [20, 10, 0.3]
    here, there = fit_plane(points), fit_plane(points + np.array([1e4, -1e4, 1e4]))
    assert there.plane.normal == pytest.approx(here.plane.normal, abs=1e-9)
    assert there.normal_bound == pytest.approx(here.normal_bound, rel=1e-6)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (np.empty((0, 3)), "three points"),
        ([[0, 0, 0], [1, 0, 0]], "three points"),
        ([[1, 2, 3]] * 5, "coincide"),
        ([[0, 0, 0], [1, 1, 1], [2, 2, 2], [5, 5, 5]], "one line"),
        (np.outer(np.arange(9), [1 / 3, 1 / 7, 1e3]), "one line"),
        ([[0, 0, 0], [1, 0, 0], [np.inf, 1, 0]], "finite"),
    ],
)
def test_refuses_points_that_define_no_plane(points, words):
    with pytest.raises(DegenerateError, match=words):
        fit_plane(points)


def test_refuses_weights_that_do_not_fit():
    with pytest.raises(ShapeError):
        fit_plane(grid(), [1, 2, 3])
    with pytest.raises(DegenerateError, match="negative"):
        fit_plane(grid(), np.linspace(-1, 1, 36))
    with pytest.raises(DegenerateError, match="three points"):
        fit_plane(grid(), [1, 1, *[0] * 34])


@pytest.mark.parametrize("noise", [0.0, 1e-5, 1e-3])
@pytest.mark.parametrize("seed", range(4))
def test_most_points_on_one_line_keep_all(seed, noise):
    """The majority agrees on a line; any single other point would make the plane its own."""
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(16, 3)) * [20, noise, noise]
    points[13:, 1:] += rng.normal(size=(3, 2))
    fit = fit_plane(points)
    assert fit.inliers.all()
    assert fit.normal_bound > 5.0
