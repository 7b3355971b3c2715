"""Lines through a planar zone, its outline, and points over it."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree
from specimens import cube, tube

from trajplan.bone import as_surface, make_bone
from trajplan.fracture import (
    candidate_points,
    distance_to_outline,
    fracture_depth,
    fracture_from_plane,
    outline,
    whole_region,
)
from trajplan.geometry import segment_segment_distance, to_plane


def zone_of(mesh, point, normal):
    return fracture_from_plane(make_bone(as_surface(mesh)), point, normal).zones[0]


TUBE = zone_of(tube(), [0, 0, 50], [0.5, 0, 1])
CUBE = zone_of(cube(20), [0, 0, 5], [0, 0, 1])


def test_depth_on_the_plane_is_never_on_a_patch():
    origin = np.array([[0, 0, 0], [50, 0, 0], [0, 0, 20.0]])
    direction = np.array([[0, 0, 1], [0, 0, -1], [1, 0, 0.0]])
    depth, on_patch = fracture_depth(CUBE, origin, direction)
    assert depth[:2] == pytest.approx([5, -5])
    assert np.isnan(depth[2])
    assert not on_patch.any()


def test_distance_to_the_outline_of_a_square():
    points = np.array([[0, 0, 5], [10, 0, 5], [13, 14, 5], [0, 7, 9], [13, 14, 17.0]])
    want = [10, 0, 5, 5, 13]
    assert distance_to_outline(CUBE, points) == pytest.approx(want, abs=1e-9)


def test_distance_to_the_outline_against_every_segment():
    """Segments of no length stand for the points: the general distance of two segments."""
    (ring,) = outline(TUBE)
    points = np.random.default_rng(0).normal(size=(100, 3)) * 20
    start, end = points[:, None], points[:, None]
    every = segment_segment_distance(start, end, ring[:-1], ring[1:])
    assert distance_to_outline(TUBE, points) == pytest.approx(every.min(axis=1), abs=1e-9)
    assert distance_to_outline(TUBE, np.empty((0, 3))).shape == (0,)


def test_distance_to_the_outline_against_dense_samples():
    (ring,) = outline(TUBE)
    share = np.linspace(0, 1, 200)[:, None, None]
    dense = (ring[:-1] + share * np.diff(ring, axis=0)).reshape(-1, 3)
    points = np.random.default_rng(1).normal(size=(200, 3)) * 15 + [0, 0, 50]
    sampled = cKDTree(dense).query(points)[0]
    exact = distance_to_outline(TUBE, points)
    assert (exact <= sampled + 1e-9).all()
    assert exact == pytest.approx(sampled, abs=0.01)


def test_a_point_that_is_not_there():
    away = distance_to_outline(CUBE, np.array([[np.nan] * 3, [0, 0, 5]]))
    assert np.isnan(away[0])
    assert away[1] == pytest.approx(10)


def test_candidates_fill_the_region_and_the_canal():
    points = candidate_points(TUBE, 2.0)
    assert np.abs(TUBE.plane.height(points)).max() < 1e-9
    radius = np.hypot(points[:, 0], points[:, 1])
    assert radius.max() < 14
    assert np.count_nonzero(radius < 9) > 10
    nearest = cKDTree(points).query(points, k=2)[0][:, 1]
    assert nearest == pytest.approx(np.full(len(points), 2.0))
    hexagon = np.sqrt(3) / 2 * 2.0**2  # area of a point's cell (closed form)
    whole = np.pi * 14**2 * np.sqrt(1.25)
    assert len(points) == pytest.approx(whole / hexagon, rel=0.1)
    assert np.array_equal(points, candidate_points(TUBE, 2.0))


def test_candidates_fill_a_canal_that_is_open_at_a_side():
    """Beside a third fragment a zone runs only half round the canal."""
    half = shapely.intersection(TUBE.region, shapely.box(-99, -99, 0, 99))
    part = replace(TUBE, region=shapely.MultiPolygon([half]), fragments=(0, 1))
    flat = to_plane(part.plane, candidate_points(part, 1.0))
    assert flat[:, 0].max() < 0
    assert np.count_nonzero(np.hypot(*flat.T) < 8.0) > 50  # marrow, 9 mm wide at the least
    whole = np.pi * 14**2 * np.sqrt(1.25) / 2  # closed form: half an ellipse
    assert whole_region(part).area == pytest.approx(whole, rel=0.01)


def test_candidates_keep_the_inset():
    points = candidate_points(CUBE, 1.5, inset=4.0)
    assert np.abs(points[:, :2]).max() <= 6.0 + 1e-9
    assert np.abs(points[:, :2]).max() > 4.5
    assert len(candidate_points(CUBE, 1.5, inset=11.0)) == 0


def test_a_coarse_grid_still_gives_the_middle():
    assert candidate_points(CUBE, 500.0) == pytest.approx(np.array([[0, 0, 5]]))


@pytest.mark.parametrize("spacing", [0.0, -1.0, np.nan])
def test_refuses_no_spacing(spacing):
    with pytest.raises(ValueError, match="spacing"):
        candidate_points(CUBE, spacing)
