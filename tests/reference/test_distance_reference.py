"""Clearance against closed forms, a general library and plain optimisation.

Sources: sphere and box, closed forms of elementary geometry; ``trimesh.proximity`` (an
independent point-to-mesh distance) sampled densely along segments, which over-estimates by
no more than half the spacing; ``scipy.optimize`` on the convex problem of a segment and a
triangle.
"""

import numpy as np
import pytest
import trimesh
from scipy.optimize import lsq_linear
from specimens import box, sphere

from trajplan.bone import SurfaceDistance, as_surface, nearer_than, segment_distance
from trajplan.geometry import segment_triangle_distance


def segments(n, seed, spread=40.0):
    rng = np.random.default_rng(seed)
    p = rng.normal(size=(n, 3)) * spread
    u = rng.normal(size=(n, 3))
    u /= np.linalg.norm(u, axis=1)[:, None]
    return p, p + u * rng.uniform(10, 100, (n, 1))


def test_segment_to_sphere_within_its_chord_error():
    """Closed form: distance of the segment to the centre less the radius."""
    vertices, faces = sphere(20, 4)
    distance = SurfaceDistance.of(as_surface((vertices, faces)))
    p, q = segments(500, 0)
    t = np.clip(-np.einsum("ij,ij->i", p, q - p) / np.einsum("ij,ij->i", q - p, q - p), 0, 1)
    centre = np.linalg.norm(p + t[:, None] * (q - p), axis=1)
    outside = centre > 20.5
    got = segment_distance(distance, p, q)[outside]
    sagitta = 20 - np.linalg.norm(vertices[faces].mean(axis=1), axis=1).min()
    excess = got - (centre[outside] - 20)
    assert outside.sum() > 100
    assert excess.min() > -1e-9  # the mesh lies inside the sphere
    assert excess.max() < 1.01 * sagitta


def test_segment_over_a_box():
    """Closed form: parallel to a face, past an edge, past a corner."""
    distance = SurfaceDistance.of(as_surface(box((0, 0, 0), (10, 20, 30))))
    p = [[2, 3, 34], [13, -50, 34], [13, 24, 42]]
    q = [[8, 17, 34], [13, 70, 34], [33, 44, 62]]
    assert segment_distance(distance, p, q) == pytest.approx([4, 5, 13], abs=1e-12)


def test_against_dense_samples_of_another_library():
    vertices, faces = sphere(20, 2)
    faces = faces[vertices[faces].mean(axis=1)[:, 2] > 5]  # an open cap, as a joint surface
    distance = SurfaceDistance.of(as_surface((vertices, faces)))
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    p, q = segments(25, 1)
    share = np.linspace(0, 1, 201)[:, None]
    points = p[:, None] + share * (q - p)[:, None]
    sampled = trimesh.proximity.closest_point(mesh, points.reshape(-1, 3))[1]
    least = sampled.reshape(len(p), -1).min(axis=1)
    exact = segment_distance(distance, p, q)
    half_step = np.linalg.norm(q - p, axis=1) / 400
    assert (exact <= least + 1e-9).all()  # samples only ever over-estimate
    assert (exact >= least - half_step - 1e-9).all()
    assert np.array_equal(nearer_than(distance, p, q, exact + 1e-6), np.ones(25, bool))
    assert not nearer_than(distance, p, q, exact - 1e-6).any()


def test_segment_triangle_against_convex_optimisation():
    """The distance is a least-squares problem in three shares; scipy solves it otherwise.

    ``x = p + s (q - p)``, ``y = a + u (b - a) + v (c - a)``; the bound ``u + v <= 1`` is made
    a plain bound by ``y = a + w ((1 - r) (b - a) + r (c - a))`` for 401 values of ``r``:
    from above, to the grid's error.
    """
    rng = np.random.default_rng(2)
    for _ in range(12):
        p, q, a, b, c = rng.normal(size=(5, 3)) * 5
        got = segment_triangle_distance(p[None], q[None], np.stack([a, b, c])[None])[0]
        best = np.inf
        for r in np.linspace(0, 1, 401):
            spoke = (1 - r) * (b - a) + r * (c - a)
            fit = lsq_linear(np.stack([p - q, spoke], axis=1), p - a, (0, 1), method="bvls")
            best = min(best, np.linalg.norm(fit.fun))
        step = np.linalg.norm(c - b) / 400
        assert got <= best + 1e-9
        assert got >= best - step
