"""Faces near another fragment: all that are, none that are far, and never too many."""

import re

import numpy as np
import pytest
from specimens import box, tube

from trajplan.bone import SurfaceDistance, as_surface, make_bone, point_distance, split_bone
from trajplan.errors import CaseError
from trajplan.fracture import _facing, fracture_between
from trajplan.fracture._facing import AROUND, LONGEST, MOST_AREA, find_facing
from trajplan.fracture._normals import areas
from trajplan.fracture._refine import refine
from trajplan.geometry import Plane

REACH = 5.0
OBLIQUE = Plane.through([0, 0, 60], [0, 0.6, 0.8])


def test_all_that_comes_near_is_there_and_divided_as_if_all_were():
    """Faces as long as the shaft against dividing every one of them from end to end.

    The faces that come near are found by the distance of their corners and middles to the
    other fragment, not by the bounds that the search drops faces by.
    """
    bone = make_bone(split_bone(as_surface(tube(8.0, 5.0, 120.0, 16)), OBLIQUE).pieces)
    found = find_facing(bone, REACH, 45.0)
    vertices, faces = bone.surface.vertices, bone.surface.faces
    vertices, faces, coarse = refine(vertices, faces, 8.0)  # in two steps, for the same parts
    vertices, faces, source = refine(vertices, faces, LONGEST)
    parent = coarse[source]
    body = bone.shells.body[bone.shells.of_face[parent]]
    triangles = vertices[faces]
    spots = np.concatenate([triangles, triangles.mean(axis=1, keepdims=True)], axis=1)
    near = np.zeros(len(faces), dtype=bool)
    for own in (0, 1):
        other = SurfaceDistance.over(
            bone.surface.vertices, bone.surface.faces[bone.shells.body[bone.shells.of_face] != own]
        )
        away = point_distance(other, spots[body == own].reshape(-1, 3)).reshape(-1, 4)
        near[body == own] = away.min(axis=1) <= REACH + AROUND
    have = {t.tobytes() for t in found.vertices[found.faces]}
    assert {t.tobytes() for t in triangles[near]} <= have <= {t.tobytes() for t in triangles}
    assert len(have) < 1.2 * np.count_nonzero(near)


def test_bodies_that_run_through_one_another_are_refused_in_one_line():
    """Twelve plates of 200 x 200 mm, 3 mm apart: 22 sides of 400 cm² face another."""
    plates = [as_surface(box((0, 0, 4.0 * k), (200, 200, 4.0 * k + 1))) for k in range(12)]
    with pytest.raises(CaseError, match="within 8 mm of one another over") as refused:
        fracture_between(make_bone(plates))
    area = float(re.search(r"([\d,]+) cm²", str(refused.value))[1].replace(",", ""))
    assert area == pytest.approx(24 * 400, rel=0.03)  # of 1 mm plates, the outermost sides too
    assert "\n" not in str(refused.value)


def test_faces_that_fall_into_too_many_parts_are_refused(monkeypatch):
    monkeypatch.setattr(_facing, "MOST_PARTS", 1000)
    boxes = [as_surface(box()), as_surface(box((10, 0, 0), (30, 10, 10)))]
    with pytest.raises(CaseError, match=r"more than 1,000 parts of 1\.5 mm"):
        fracture_between(make_bone(boxes))


def test_a_shaft_split_from_end_to_end_is_not_too_much():
    """As thick as a femur, with its canal; were it as long, its share would be as much more."""
    shaft = as_surface(tube(14.0, 7.0, 100.0, 24))
    bone = make_bone(split_bone(shaft, Plane.through([0, 0, 0], [1, 0, 0])).pieces)
    facing = find_facing(bone, REACH, 45.0)
    assert areas(facing.vertices[facing.faces]).sum() * 450.0 / 100.0 < MOST_AREA
