"""The compiled engine and the rule in numpy: sharp cases, no hit lost, order, caching."""

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import specimens
from lines import SHIFT, aimed_lines, random_lines, rows, turned, unit

from trajplan.bone import _beside, _build, _rule, _walk
from trajplan.bone._rule import brute_crossings
from trajplan.bone._tree import LINES_AT_ONCE, ROOM, TreeCaster

MESHES = {
    "cube": specimens.cube(),
    "turned cube": turned(specimens.cube()),
    "tetra": specimens.tetra(),
    "sphere": specimens.sphere(subdivisions=2),
    "turned tube": turned(specimens.tube(sides=12, length=20.0)),
    "touching boxes": specimens.touching_boxes(),
}


def triangles_of(mesh):
    vertices, faces = mesh
    return vertices[faces]


def assert_same(got, expected):
    np.testing.assert_array_equal(got.offsets, expected.offsets)
    np.testing.assert_array_equal(got.face, expected.face)
    np.testing.assert_array_equal(got.sign, expected.sign)
    np.testing.assert_allclose(got.depth, expected.depth, rtol=0, atol=1e-11)


def balance(crossings):
    return np.array([row.sum() for row in rows(crossings.offsets, crossings.sign)])


def test_the_two_copies_of_the_rule_share_their_constants():
    assert _walk.SPLITTER == _rule.SPLITTER
    assert _walk.FLAT == _rule.FLAT
    assert _walk.CLOSE == _rule.CLOSE
    assert _walk.STACK == _beside.STACK > 3 * _build.STACK


@pytest.mark.parametrize("name", MESHES)
def test_tree_finds_what_brute_force_finds(name):
    triangles = triangles_of(MESHES[name])
    caster = TreeCaster(triangles)
    for origin, direction in (random_lines(400), aimed_lines(MESHES[name], 600)):
        assert_same(
            caster.crossings(origin, direction), brute_crossings(triangles, origin, direction)
        )


@pytest.mark.parametrize("name", MESHES)
def test_every_line_enters_a_closed_surface_as_often_as_it_leaves(name):
    caster = TreeCaster(triangles_of(MESHES[name]))
    crossings = caster.crossings(*aimed_lines(MESHES[name], 5000, seed=1))
    assert crossings.offsets[-1] > 2000
    assert not balance(crossings).any()


def test_a_line_in_the_plane_of_a_face_leaves_no_earlier_than_it_enters():
    """Seen edge on, a triangle's depth rests on the last bits: this line left 0.15 mm early."""
    mesh = specimens.tube(sides=12, length=24.0)
    origin, direction = (part[96:97] for part in aimed_lines(mesh, 200, seed=11968216))
    triangles = triangles_of(mesh)
    for got in (
        TreeCaster(triangles).crossings(origin, direction),
        brute_crossings(triangles, origin, direction),
    ):
        assert sorted(got.sign.tolist()) == [-1, 1]
        np.testing.assert_allclose(np.diff(got.depth), 0.0, atol=1e-11)


def test_sign_follows_the_normal():
    mesh = turned(specimens.sphere())
    triangles = triangles_of(mesh)
    origin, direction = random_lines(300)
    got = TreeCaster(triangles).crossings(origin + SHIFT, direction)
    a, b, c = triangles[got.face].transpose(1, 0, 2)
    line = np.repeat(np.arange(300), np.diff(got.offsets))
    along = np.einsum("ij,ij->i", np.cross(b - a, c - a), direction[line])
    assert len(along) > 300
    np.testing.assert_array_equal(np.sign(along), got.sign)


@pytest.mark.parametrize("axis", range(3))
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_direction_with_exact_zeros(axis, way):
    direction = np.zeros((1, 3))
    direction[0, axis] = way
    origin = np.array([[0.3, 0.4, 0.7]])
    got = TreeCaster(triangles_of(specimens.cube(10.0))).crossings(origin, direction)
    inside = origin[0, axis] * way
    np.testing.assert_allclose(got.depth, [-5.0 - inside, 5.0 - inside], atol=1e-13)
    assert got.sign.tolist() == [-1, 1]


def test_negative_zero_and_denormal_components_are_zeros():
    caster = TreeCaster(triangles_of(specimens.cube(10.0)))
    origin = np.tile([5.0, 0.5, -20.0], (3, 1))
    direction = np.array([[0.0, 0.0, 1.0], [-0.0, -0.0, 1.0], [5e-324, -1e-310, 1.0]])
    got = caster.crossings(origin, direction)
    depths = [row.tolist() for row in rows(got.offsets, got.depth)]
    assert depths[0] == depths[1] == depths[2]


@pytest.mark.parametrize("distance", [0.0, 1e3, 1e6])
def test_origin_may_lie_far_away(distance):
    """Only the rounding of the origin itself may show in the depth."""
    caster = TreeCaster(triangles_of(turned(specimens.sphere())))
    origin, direction = random_lines(500, -8, 8)
    origin = origin + SHIFT
    here = caster.crossings(origin, direction)
    there = caster.crossings(origin - distance * direction, direction)
    np.testing.assert_array_equal(here.offsets, there.offsets)
    np.testing.assert_allclose(there.depth - distance, here.depth, atol=1e-10 + 1e-13 * distance)


def test_mesh_may_lie_far_away():
    vertices, faces = specimens.sphere()
    shift = 2.0**20  # exact, so that the shape is the same but for the last bits
    caster = TreeCaster((vertices + shift)[faces])
    origin, direction = random_lines(500, -8, 8)
    got = caster.crossings(origin + shift, direction)
    assert_counts = np.diff(got.offsets)
    expected = TreeCaster(vertices[faces]).crossings(origin, direction)
    np.testing.assert_array_equal(assert_counts, np.diff(expected.offsets))
    np.testing.assert_allclose(got.depth, expected.depth, atol=1e-7)


def test_no_hit_is_dropped_beyond_the_room_of_a_line():
    plates = 5 * ROOM + 3
    square = np.array([[-1, -1, 0], [3, -1, 0], [-1, 3, 0]], dtype=float)
    triangles = np.array([square + np.array([0, 0, z]) for z in range(plates)])
    origin = np.array([[0.1, 0.1, -1.0], [50.0, 0.0, 0.0], [0.1, 0.1, 200.0]])
    direction = np.array([[0, 0, 1.0], [0, 0, 1.0], [0, 0, -1.0]])
    got = TreeCaster(triangles).crossings(origin, direction)
    assert np.diff(got.offsets).tolist() == [plates, 0, plates]
    first, _, last = rows(got.offsets, got.face)
    np.testing.assert_array_equal(first, np.arange(plates))
    np.testing.assert_array_equal(last, np.arange(plates)[::-1])
    np.testing.assert_allclose(rows(got.offsets, got.depth)[0], np.arange(1.0, plates + 1))


def test_more_lines_than_are_cast_together():
    caster = TreeCaster(triangles_of(specimens.cube(10.0)))
    count = LINES_AT_ONCE + 7
    origin = np.tile([0.3, 0.2, -20.0], (count, 1))
    origin[-1, 2] = -30.0
    got = caster.crossings(origin, np.tile([0.0, 0.0, 1.0], (count, 1)))
    assert (np.diff(got.offsets) == 2).all()
    np.testing.assert_allclose(got.depth[-4:], [15, 25, 25, 35])


def test_ties_are_ordered_by_face():
    """Five copies of one triangle: equal depths, so the order is that of the faces."""
    triangles = np.repeat([[[0, 0, 0], [4, 0, 0], [0, 4, 0]]], 5, axis=0).astype(float)
    got = TreeCaster(triangles).crossings(np.array([[1.0, 1, -3]]), np.array([[0, 0, 1.0]]))
    assert got.face.tolist() == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("lines", [0, 1])
def test_no_triangle_and_no_line(lines):
    origin, direction = random_lines(lines)
    for faces in (0, 1):
        got = TreeCaster(np.full((faces, 3, 3), 1e6)).crossings(origin, direction)
        assert got.offsets.tolist() == [0] * (lines + 1)
        assert len(got.depth) == 0


def test_degenerate_triangles_are_never_hit():
    point = np.zeros((3, 3))
    needle = np.array([[-1.0, 0, 0], [1, 0, 0], [0.5, 0, 0]])
    origin, direction = np.array([[0, 0, -5.0]]), np.array([[0, 0, 1.0]])
    for triangle in (point, needle, needle[[0, 1, 1]]):
        got = TreeCaster(triangle[None]).crossings(origin, direction)
        assert got.offsets.tolist() == [0, 0]


def test_deep_nodes_are_halved_by_number():
    """Nested boxes, each half of the last, are cut unevenly, but not for ever."""
    high = 0.5 ** np.arange(100)[:, None] * np.ones(3)
    low, order = np.zeros((100, 3)), np.arange(100)
    assert _build._cut(low, high, order, 0, 100, 0) != 50
    assert _build._cut(low, high, order, 0, 100, _build.HALVE_BELOW) == 50


def test_skewed_sizes_lose_no_crossing():
    size = 0.5 ** np.arange(300)[:, None, None]
    triangles = np.repeat(size * np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, 1]]), 3, axis=0)
    origin, direction = random_lines(200, 0.0, 0.5)
    expected = brute_crossings(triangles, origin, direction)
    assert expected.offsets[-1] > 500
    assert_same(TreeCaster(triangles).crossings(origin, direction), expected)


def test_side_is_exact_where_the_products_round_to_the_same():
    """Against rational arithmetic: points within one bit of being in line with (0, 0)."""
    rng = np.random.default_rng(3)
    a = rng.uniform(-1, 1, (4000, 2))
    b = a * rng.uniform(0.1, 9, (4000, 1))
    b[::2] = np.nextafter(b[::2], np.inf)
    side, area = _rule._side(a[:, 0], a[:, 1], b[:, 0], b[:, 1])
    exact = [
        Fraction(xa) * Fraction(yb) - Fraction(ya) * Fraction(xb)
        for (xa, ya), (xb, yb) in zip(a.tolist(), b.tolist(), strict=True)
    ]
    truth = np.array([(x > 0) - (x < 0) for x in exact])
    assert ((area == 0) & (truth != 0)).sum() > 50  # plain float64 would have lost these
    np.testing.assert_array_equal(side[truth != 0], truth[truth != 0])
    compiled = [
        _walk._side(w, *p, *q) for w, p, q in zip(area, a.tolist(), b.tolist(), strict=True)
    ]
    np.testing.assert_array_equal(compiled, side)


def test_edge_answers_its_two_triangles_with_opposite_sides():
    rng = np.random.default_rng(4)
    grid = rng.integers(-3, 4, (4, 5000)).astype(float)  # many exact zeros
    here, _ = _rule._side(*grid)
    there, _ = _rule._side(grid[2], grid[3], grid[0], grid[1])
    np.testing.assert_array_equal(here, -there)
    same = (grid[0] == grid[2]) & (grid[1] == grid[3])
    np.testing.assert_array_equal(here == 0, same)


def test_lines_in_the_plane_of_a_face_balance_in_any_attitude():
    for seed in range(20):
        vertices, faces = turned(specimens.cube(), seed)
        a, b, c = vertices[faces].transpose(1, 0, 2)
        rng = np.random.default_rng(seed)
        weights = rng.dirichlet([1, 1, 1], 12)
        target = np.einsum("ik,kij->ij", weights, np.stack([a, b, c]))
        direction = unit(rng.normal(size=(12, 1)) * (b - a) + rng.normal(size=(12, 1)) * (c - a))
        crossings = TreeCaster(vertices[faces]).crossings(target - 50 * direction, direction)
        assert not balance(crossings).any()


def run_python(code, **environment):
    root = str(Path(_rule.__file__).parents[2])
    return subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": root, "PYTHONDONTWRITEBYTECODE": "1", **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def test_compiles_where_no_cache_can_be_written(monkeypatch):
    """Numba refuses to cache with a RuntimeError; the function must come back compiled."""
    from numba.core.caching import FunctionCache

    from trajplan.bone import _jit

    def refuse(self, function):
        raise RuntimeError("cannot cache function: no locator available")

    monkeypatch.setattr(FunctionCache, "__init__", refuse)

    @_jit.jit
    def twice(x):
        return 2 * x

    assert twice(21) == 42
    assert twice.signatures


def test_numba_is_not_imported_before_a_caster_is_built():
    code = (
        "import sys, trajplan.bone as b, numpy as np; assert 'numba' not in sys.modules;"
        "b.make_caster(np.zeros((0, 3, 3)), 'plain'); assert 'numba' not in sys.modules"
    )
    done = run_python(code)
    assert done.returncode == 0, done.stderr
