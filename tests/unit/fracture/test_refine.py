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
