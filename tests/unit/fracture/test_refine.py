"""Dividing triangles until no edge is long."""

import numpy as np
import pytest
from specimens import box, cylinder, open_box

from trajplan.bone import as_surface, make_bone
from trajplan.fracture._refine import refine


@pytest.mark.parametrize("mesh", [box((0, 0, 0), (3, 20, 50)), cylinder(5, 80, 24)])
def test_surface_stays_the_same(mesh):
    vertices, faces = mesh
    points, parts, source = refine(vertices, faces, 4.0)
    edges = points[parts] - np.roll(points[parts], -1, axis=1)
    assert np.linalg.norm(edges, axis=2).max() <= 4.0
    before, after = make_bone(as_surface(mesh)), make_bone(as_surface((points, parts)))
    assert after.audit.closed
    assert after.audit.wound
    assert after.audit.volume == pytest.approx(before.audit.volume)
    assert after.audit.area == pytest.approx(before.audit.area)
    normals = after.normals @ before.normals.T
    assert normals[np.arange(len(parts)), source] == pytest.approx(1)


def test_short_edges_are_left_alone():
    vertices, faces = open_box(2)
    points, parts, source = refine(vertices, faces, 3.0)
    assert (points == vertices).all()
    assert (parts == faces).all()
    assert (source == np.arange(len(faces))).all()


def test_no_face_at_all():
    points, parts, source = refine(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), 1.0)
    assert (len(points), len(parts), len(source)) == (0, 0, 0)


def test_what_is_not_wanted_is_not_divided_and_the_rest_as_ever():
    """Of a strip 64 mm long only what lies below 10 mm is wanted, and is divided alike."""
    vertices = np.array([[0.0, 0, 0], [64, 0, 0], [0, 8, 0], [64, 8, 0]])
    faces = np.array([[0, 1, 2], [1, 3, 2]])
    asked = []

    def near(triangles, source):
        asked.append(len(triangles))
        assert set(source) <= {0, 1}
        return triangles[:, :, 0].min(axis=1) < 10.0

    points, parts, source = refine(vertices, faces, 1.0, near)
    whole, every, parent = refine(vertices, faces, 1.0)
    kept = whole[every][:, :, 0].max(axis=1) < 10.0
    assert {tuple(map(tuple, t)) for t in whole[every[kept]].tolist()} <= {
        tuple(map(tuple, t)) for t in points[parts].tolist()
    }
    assert len(parts) < 0.4 * len(every)
    assert max(asked) < 0.2 * len(every)
    assert set(source) == set(parent)
