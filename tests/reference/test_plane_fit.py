"""Plane fit against numpy, scipy and scikit-spatial, and its bound against its promise.

Sources: ``numpy.linalg.eigh`` of the scatter and ``skspatial.objects.Plane.best_fit`` for the
plane; ``scipy.stats`` for the quantiles of Student, F and chi-square; for the bound, the
definition of a 95 % bound: many draws.
"""

import numpy as np
import pytest
from scipy import stats
from skspatial.objects import Plane, Points

from trajplan.geometry import fit_plane
from trajplan.geometry._bound import student_quantile, tilt_quantile

#: A share of 0.95 of so many has a standard deviation of 0.01 (binomial).
DRAWS = 500


def angle(one, other):
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other)), abs(one @ other)))


def noisy(rng, n, aspect=1.0, outliers=0.0, sigma=0.3):
    points = rng.uniform(-20, 20, (n, 3)) / [1, aspect, 1]
    points[:, 2] = sigma * rng.normal(size=n)
    wrong = round(outliers * n)
    points[:wrong, 2] += rng.choice([-1, 1], wrong) * rng.uniform(3, 15, wrong)
    return points


@pytest.mark.parametrize("seed", range(5))
def test_same_plane_as_a_general_library(seed):
    rng = np.random.default_rng(seed)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    points = noisy(rng, 6) @ turn + [100, -50, 900]  # six: no point is left out
    fit = fit_plane(points)
    best = Plane.best_fit(Points(points))
    assert angle(fit.plane.normal, np.array(best.normal)) < 1e-6
    assert fit.plane.point == pytest.approx(np.array(best.point))
    distances = [best.distance_point(point) for point in points]
    assert fit.rms == pytest.approx(np.sqrt(np.mean(np.square(distances))))
    assert fit.largest == pytest.approx(max(distances))


def test_same_plane_as_the_weighted_scatter():
    rng = np.random.default_rng(7)
    points, weights = noisy(rng, 40), rng.uniform(0.5, 2, 40)
    fit = fit_plane(points, weights)
    assert fit.inliers.all()
    centred = points - np.average(points, axis=0, weights=weights)
    values, axes = np.linalg.eigh((weights[:, None] * centred).T @ centred)
    assert angle(fit.plane.normal, axes[:, 0]) < 1e-6
    assert fit.rms == pytest.approx(np.sqrt(values[0] / weights.sum()))


def test_outliers_leave_the_plane_of_the_rest():
    """With the truth at hand: the fit equals numpy's on the clean points alone."""
    points = noisy(np.random.default_rng(3), 200, outliers=0.2)
    fit = fit_plane(points)
    clean = points[40:]
    axes = np.linalg.svd(clean - clean.mean(axis=0))[2]
    assert not fit.inliers[:40].any()
    assert fit.inliers[40:].mean() > 0.99
    assert angle(fit.plane.normal, axes[2]) < 0.02


@pytest.mark.parametrize("freedom", [1, 2, 3, 7, 20, 100, 1e5])
def test_quantiles(freedom):
    equal = tilt_quantile(np.array([2.0, 2.0]), freedom)
    assert equal == pytest.approx(np.sqrt(2 * 2.0 * stats.f.ppf(0.95, 2, freedom)), rel=1e-6)
    one = student_quantile(freedom, 0.05)
    assert one == pytest.approx(stats.t.ppf(0.975, freedom), rel=3e-3)
    if freedom == 1e5:
        assert equal == pytest.approx(np.sqrt(2 * stats.chi2.ppf(0.95, 2)), rel=1e-4)


@pytest.mark.parametrize(("n", "aspect"), [(5, 1), (6, 4), (10, 2), (25, 1), (25, 4), (100, 3)])
def test_bound_covers_the_truth_in_95_percent_of_draws(n, aspect):
    rng = np.random.default_rng(1000 * n + aspect)
    draws = (fit_plane(noisy(rng, n, aspect)) for _ in range(DRAWS))
    covered = np.mean([angle(f.plane.normal, np.array([0, 0, 1])) <= f.normal_bound for f in draws])
    assert 0.93 <= covered <= 0.97


@pytest.mark.parametrize(("n", "aspect"), [(20, 1), (50, 3)])
def test_bound_covers_the_truth_with_outliers(n, aspect):
    rng = np.random.default_rng(n)
    draws = (fit_plane(noisy(rng, n, aspect, outliers=0.1)) for _ in range(DRAWS))
    covered = np.mean([angle(f.plane.normal, np.array([0, 0, 1])) <= f.normal_bound for f in draws])
    assert 0.90 <= covered <= 0.98


def test_bound_covers_the_truth_with_unequal_weights():
    rng = np.random.default_rng(5)
    hits = []
    for _ in range(DRAWS):
        fit = fit_plane(noisy(rng, 60), rng.uniform(0.1, 1.0, 60))
        hits.append(angle(fit.plane.normal, np.array([0, 0, 1])) <= fit.normal_bound)
    assert 0.93 <= np.mean(hits) <= 0.97
