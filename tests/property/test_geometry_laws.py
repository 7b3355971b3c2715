"""Laws that hold for every plane, segment and fracture."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from specimens import sphere, tube

from trajplan.bone import SurfaceDistance, as_surface, make_bone, segment_distance
from trajplan.fracture import fracture_from_plane, fracture_from_points
from trajplan.geometry import fit_plane, segment_segment_distance, segment_triangle_distance

seeds = st.integers(0, 2**32 - 1)


def rigid(rng):
    """A rotation and a shift of up to half a metre."""
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn[0] *= np.sign(np.linalg.det(turn))
    return turn, rng.uniform(-500, 500, 3)


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_distances_do_not_change_with_order_or_motion(seed):
    rng = np.random.default_rng(seed)
    n = rng.integers(0, 30)
    p, q, a, b, c = rng.normal(size=(5, n, 3)) * 10
    turn, shift = rigid(rng)
    moved = [x @ turn.T + shift for x in (p, q, a, b, c)]
    pair = segment_segment_distance(p, q, a, b)
    assert np.allclose(pair, segment_segment_distance(b, a, p, q), atol=1e-9)
    assert np.allclose(pair, segment_segment_distance(*moved[:4]), atol=1e-9)
    face = segment_triangle_distance(p, q, np.stack([a, b, c], axis=1))
    assert np.allclose(
        face, segment_triangle_distance(q, p, np.stack([c, a, b], axis=1)), atol=1e-9
    )
    assert (face <= pair + 1e-9).all()  # the triangle holds its edge ab


@given(seeds)
@settings(max_examples=15, deadline=None)
def test_clearance_laws(seed):
    """Lengthening never raises it, splitting loses nothing, more faces never raise it."""
    rng = np.random.default_rng(seed)
    vertices, faces = sphere(20, 1)
    few = SurfaceDistance.of(as_surface((vertices, faces[: rng.integers(1, 80)])))
    all_ = SurfaceDistance.of(as_surface((vertices, faces)))
    p = rng.normal(size=(20, 3)) * 25
    q = p + rng.normal(size=(20, 3)) * 20
    middle = p + rng.uniform(size=(20, 1)) * (q - p)
    whole = segment_distance(few, p, q)
    halves = np.minimum(segment_distance(few, p, middle), segment_distance(few, middle, q))
    assert np.allclose(whole, halves, atol=1e-9)
    assert (segment_distance(all_, p, q) <= whole + 1e-9).all()


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_plane_fit_moves_with_its_points(seed):
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(rng.integers(4, 40), 3)) * [20, 12, 0.5]
    turn, shift = rigid(rng)
    here, there = fit_plane(points), fit_plane(points @ turn.T + shift)
    order = rng.permutation(len(points))
    assert abs(there.plane.normal @ (turn @ here.plane.normal)) > 1 - 1e-9
    assert np.isclose(there.rms, here.rms)
    assert np.isclose(there.normal_bound, here.normal_bound)
    assert np.array_equal(there.inliers, here.inliers)
    if here.inliers.all() and len(points) < 7:  # no draw of triples depends on the order
        assert np.isclose(fit_plane(points[order]).normal_bound, here.normal_bound)


@given(seeds, st.floats(5, 60))
@settings(max_examples=15, deadline=None)
def test_fracture_moves_with_its_bone(seed, tilt):
    rng = np.random.default_rng(seed)
    vertices, faces = tube(sides=48)
    angle = rng.uniform(0, 2 * np.pi)
    radians = np.radians(tilt)
    normal = [np.sin(radians) * np.cos(angle), np.sin(radians) * np.sin(angle), np.cos(radians)]
    point = np.array([0, 0, 50.0])
    turn, shift = rigid(rng)
    here = fracture_from_plane(make_bone(as_surface((vertices, faces))), point, normal)
    moved = make_bone(as_surface((vertices @ turn.T + shift, faces)))
    there = fracture_from_plane(moved, turn @ point + shift, turn @ normal)
    assert np.isclose(there.zones[0].area, here.zones[0].area)
    assert np.allclose(there.zones[0].fit.extents, here.zones[0].fit.extents, atol=1e-6)
    polygon = 24 * (14**2 - 9**2) * np.sin(2 * np.pi / 48)  # closed form of the 48-gon ring
    assert np.isclose(here.zones[0].area, polygon / np.cos(radians), rtol=1e-9)


@given(seeds)
@settings(max_examples=10, deadline=None)
def test_points_give_the_plane_that_they_were_taken_from(seed):
    rng = np.random.default_rng(seed)
    bone = make_bone(as_surface(tube(sides=48)))
    angle = rng.uniform(0, 2 * np.pi, 8)
    slope = rng.uniform(-1, 1, 2)
    rim = 14 * np.column_stack([np.cos(angle), np.sin(angle)])
    points = np.column_stack([rim, 50 + rim @ slope])
    if np.linalg.svd(rim - rim.mean(axis=0))[1][1] < 5:
        return  # all picked on one side: nearly a line
    picked = fracture_from_points(bone, points).zones[0]
    given_ = fracture_from_plane(bone, points.mean(axis=0), [-slope[0], -slope[1], 1]).zones[0]
    assert np.isclose(picked.area, given_.area, rtol=1e-6)
