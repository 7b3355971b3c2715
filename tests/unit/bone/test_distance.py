"""Distances to a surface: odd meshes, odd segments, odd arrays."""

import pickle

import numpy as np
import pytest
from specimens import cube, sphere

import trajplan.bone._candidates as candidates
import trajplan.bone._distance as module
from trajplan.bone import (
    Surface,
    SurfaceDistance,
    as_surface,
    nearer_than,
    point_distance,
    segment_distance,
)
from trajplan.errors import DegenerateError, MeshError, ShapeError
from trajplan.geometry import segment_triangle_distance


def distance_to(vertices, faces):
    """Without the reader, which may refuse what is tested here."""
    vertices, faces = np.asarray(vertices, float), np.asarray(faces, np.int64)
    return SurfaceDistance.of(Surface(vertices, faces, {}, "test", "", 0))


def brute(distance, p, q):
    return np.array([
        segment_triangle_distance(a[None], b[None], distance.triangles).min()
        for a, b in zip(p, q, strict=True)
    ])  # fmt: skip


def random_segments(n, seed=0, spread=30.0, longest=80.0):
    rng = np.random.default_rng(seed)
    p = rng.normal(size=(n, 3)) * spread
    step = rng.normal(size=(n, 3))
    step *= rng.uniform(0, longest, (n, 1)) / np.linalg.norm(step, axis=1, keepdims=True)
    return p, p + step


ONE = ([[0, 0, 0], [10, 0, 0], [0, 10, 0]], [[0, 1, 2]])


def test_single_triangle_over_face_edge_and_corner():
    distance = distance_to(*ONE)
    p = [[2, 2, 3], [5, -4, 0], [-3, -4, 0], [2, 2, -1]]
    q = [[2, 2, 9], [5, -9, 0], [-6, -8, 0], [2, 2, 1]]
    assert segment_distance(distance, p, q) == pytest.approx([3, 4, 5, 0], abs=1e-12)


@pytest.mark.parametrize("mesh", [cube(20), sphere(20, 2)])
def test_equals_brute_force(mesh):
    distance = distance_to(*mesh)
    p, q = random_segments(300)
    assert segment_distance(distance, p, q) == pytest.approx(brute(distance, p, q), abs=1e-9)


def test_piercing_is_zero_and_enclosed_is_not():
    distance = SurfaceDistance.of(as_surface(cube(20)))
    through = segment_distance(distance, [[1, 2, -50]], [[1, 2, 50]])
    inside = segment_distance(distance, [[-3, 0, 0]], [[3, 0, 0]])
    assert through[0] == 0.0
    assert inside[0] == pytest.approx(7.0)


def test_piercing_at_a_corner_and_along_a_face():
    distance = distance_to(*cube(20))
    p = [[-20, -20, -20], [-15, 3, 10]]
    q = [[20, 20, 20], [15, 3, 10]]
    assert segment_distance(distance, p, q) == pytest.approx([0, 0], abs=1e-12)


def test_zero_length_segment_is_a_point():
    distance = distance_to(*sphere(20, 2))
    p, _ = random_segments(50)
    assert segment_distance(distance, p, p) == pytest.approx(point_distance(distance, p), abs=1e-9)


def test_empty_arrays():
    distance = distance_to(*ONE)
    none = np.empty((0, 3))
    assert segment_distance(distance, none, none).shape == (0,)
    assert point_distance(distance, none).shape == (0,)
    assert nearer_than(distance, none, none, np.empty(0)).shape == (0,)


def test_degenerate_faces_count_as_their_edges():
    """Three points on a line but for rounding, one point thrice, two points."""
    t = np.array([1 / 3, 1 / 7, 1 / 11])
    vertices = [*(s * t for s in (10.0, 20.0, 50.0)), [5, 5, 5]]
    faces = [[0, 1, 2], [3, 3, 3], [0, 2, 2]]
    distance = distance_to(vertices, faces)
    p, q = random_segments(200, spread=10.0)
    line = distance_to([10 * t, 50 * t, [5, 5, 5]], [[0, 1, 1], [2, 2, 2]])
    assert point_distance(distance, p) == pytest.approx(point_distance(line, p), abs=1e-9)
    assert segment_distance(distance, p, q) == pytest.approx(brute(line, p, q), abs=1e-9)


def test_points_on_a_line_but_for_rounding():
    """libigl, given such faces as they are, misses by as much as their size."""
    t = np.array([1 / 3, 1 / 7, 1 / 11])
    p = np.random.default_rng(0).normal(size=(500, 3)) * 3 + t
    for shares in np.random.default_rng(1).uniform(-9, 9, (30, 3)):
        ends = np.array([shares.min(), shares.max()])[:, None] * t
        share = np.clip((p - ends[0]) @ t / ((ends[1] - ends[0]) @ t), 0, 1)
        want = np.linalg.norm(p - ends[0] - share[:, None] * (ends[1] - ends[0]), axis=1)
        got = point_distance(distance_to(shares[:, None] * t, [[0, 1, 2]]), p)
        assert got == pytest.approx(want, abs=1e-9)


def test_huge_triangle_among_small_ones(monkeypatch):
    vertices, faces = sphere(5, 3)
    n = len(vertices)
    vertices = np.concatenate([vertices, [[-2000, -2000, -30], [2000, -2000, -30], [0, 3000, -30]]])
    distance = distance_to(vertices, np.concatenate([faces, [[n, n + 1, n + 2]]]))
    assert len(distance.sizes) >= 2
    monkeypatch.setattr(candidates, "PAIRS", 500)  # many blocks
    p, q = random_segments(200)
    assert segment_distance(distance, p, q) == pytest.approx(brute(distance, p, q), abs=1e-9)


def test_candidate_blocks_stay_bounded(monkeypatch):
    distance = distance_to(*sphere(20, 3))
    monkeypatch.setattr(candidates, "PAIRS", 3_000)
    middle = np.zeros((40, 3))
    blocks = list(
        candidates.candidate_pairs(distance.sizes, middle, middle, np.full(40, 25.0))
    )  # every point sees all 1,280 faces
    assert sum(len(row) for row, _ in blocks) == 40 * 1280
    assert max(len(row) for row, _ in blocks) <= 3_000 + 1280


def test_blocks_of_segments_join(monkeypatch):
    distance = distance_to(*sphere(20, 2))
    p, q = random_segments(50)
    whole = segment_distance(distance, p, q)
    near = nearer_than(distance, p, q, 5.0)
    monkeypatch.setattr(module, "BLOCK", 7)
    assert np.array_equal(segment_distance(distance, p, q), whole)
    assert np.array_equal(nearer_than(distance, p, q, 5.0), near)


def test_nearer_than_agrees_with_the_distance():
    distance = distance_to(*sphere(20, 3))
    p, q = random_segments(2000)
    exact = segment_distance(distance, p, q)
    limit = np.random.default_rng(1).uniform(0, 20, 2000)
    assert np.array_equal(nearer_than(distance, p, q, limit), exact < limit)


@pytest.mark.parametrize("off", [-1e-6, 1e-6])
def test_nearer_than_is_sharp_at_the_limit(off):
    """A hair to either side of the limit, where samples alone would see nothing."""
    distance = distance_to(*ONE)
    p, q = [[1, 1, 4.0]], [[90, 1, 4.0 + 1e-9]]
    assert nearer_than(distance, p, q, 4.0 + off)[0] == (off > 0)


def test_limits_without_meaning():
    distance = distance_to(*ONE)
    p, q = [[2, 2, -1]], [[2, 2, 1]]
    assert not nearer_than(distance, p, q, 0.0)[0]  # nothing is nearer than nothing
    assert nearer_than(distance, p, q, np.inf)[0]
    with pytest.raises(DegenerateError):
        nearer_than(distance, p, q, np.nan)
    with pytest.raises(ShapeError):
        nearer_than(distance, p, q, [1.0, 2.0])


def test_refuses_what_is_no_segment():
    distance = distance_to(*ONE)
    with pytest.raises(ShapeError):
        segment_distance(distance, [[0, 0, 0]], [[0, 0, 0], [1, 1, 1]])
    with pytest.raises(DegenerateError):
        segment_distance(distance, [[0, 0, np.nan]], [[0, 0, 0]])
    with pytest.raises(DegenerateError):
        point_distance(distance, [[0, 0, np.inf]])


def test_refuses_a_surface_without_faces():
    with pytest.raises(MeshError, match="no faces"):
        distance_to(np.zeros((3, 3)), np.empty((0, 3)))


def test_survives_pickling():
    distance = distance_to(*sphere(20, 2))
    copy = pickle.loads(pickle.dumps(distance))
    p, q = random_segments(20)
    assert np.array_equal(segment_distance(copy, p, q), segment_distance(distance, p, q))
