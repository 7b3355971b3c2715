"""Faces that cross one another, against a test of every edge with every face."""

import numpy as np
import pytest
from specimens import box, cube, joined, real_bone, sphere, touching_boxes, tube

from trajplan.bone import as_surface, make_bone, read_surface, self_crossings


def crossing(mesh):
    return self_crossings(make_bone(as_surface(mesh)))


def brute(vertices, faces):
    """Pairs of faces of which an edge of one passes through the other, by linear algebra.

    Solves p + s (q - p) = a + u (b - a) + v (c - a) for every edge and every face.
    """
    found = set()
    edges = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2)
    for number, (a, b, c) in enumerate(vertices[faces]):
        for k in range(3):
            p, q = vertices[edges[:, k, 0]], vertices[edges[:, k, 1]]
            system = np.stack(
                [q - p, np.broadcast_to(a - b, p.shape), np.broadcast_to(a - c, p.shape)], -1
            )
            good = np.abs(np.linalg.det(system)) > 1e-12
            s, u, v = np.linalg.solve(system[good], (a - p[good])[..., None])[..., 0].T
            slack = 1e-7
            hit = (s > slack) & (s < 1 - slack) & (u > slack) & (v > slack) & (u + v < 1 - slack)
            rows = np.flatnonzero(good)[hit]
            apart = ~np.isin(edges[rows, k], faces[number]).any(axis=1)
            for row in rows[apart]:
                found |= {int(row), number}
    return sorted(found)


@pytest.mark.parametrize("name", ["r_femur.stl", "r_tibia.stl", "humerus.stl", "radius.stl"])
def test_real_bones_against_every_pair(name):
    surface = read_surface(real_bone(name), "m")
    found = self_crossings(make_bone(surface))
    assert found.faces.tolist() == brute(surface.vertices, surface.faces)


def test_a_corner_pushed_through_the_far_side():
    vertices, faces = sphere()
    vertices[0] *= -1.3
    found = crossing((vertices, faces))
    assert found.faces.tolist() == brute(vertices, faces)
    assert len(found.faces) > 3
    assert not found.bodies
    assert np.linalg.norm(found.points - vertices[0], axis=1).min() < 5.0


@pytest.mark.parametrize(
    "mesh", [tube(), sphere(), touching_boxes(), joined(box(), box((10, 0, 0), (30, 10, 10)))]
)
def test_clean_and_touching_bodies_cross_nothing(mesh):
    found = crossing(mesh)
    assert (len(found.faces), found.words) == (0, "")


def test_bodies_that_run_into_one_another():
    found = crossing(joined(cube(10), cube(10, (5, 3, 2))))
    assert found.bodies
    assert "some of them of two bodies" in found.words


def test_fragments_that_fit_cross_without_fault_and_a_fold_in_one_of_them_stays_one():
    fitted = make_bone(as_surface(joined(cube(10), cube(10, (5, 3, 2)))))
    assert self_crossings(fitted, fitted=[(0, 1)]).words == ""
    assert len(self_crossings(fitted, fitted=[(0, 2)]).faces) > 0
    vertices, faces = sphere()
    vertices[0] *= -1.3
    aside = np.linalg.norm(vertices[1]) - 1.0
    away = vertices[0] / np.linalg.norm(vertices[0])  # clear of the corner that comes out there
    axis = int(np.abs(away).argmin())
    low, high = -np.full(3, aside), np.full(3, aside)
    low[axis], high[axis] = aside, 4.0 * aside
    beside = joined((vertices, faces), box(tuple(low), tuple(high)))
    folded = self_crossings(make_bone(as_surface(beside)), fitted=[(0, 1)])
    assert folded.faces.tolist() == brute(vertices, faces)
    assert not folded.bodies
