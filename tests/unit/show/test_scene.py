"""What a scene lists, in which roles, and that nothing is drawn twice or left out."""

from collections import Counter
from types import MappingProxyType

import numpy as np
import pytest
import shapely

from trajplan.bone import Shells, Surface
from trajplan.errors import CatalogueError
from trajplan.fracture import Fracture, PlaneFit, Zone
from trajplan.geometry import Plane
from trajplan.show import scene


def area(item):
    a, b, c = np.moveaxis(item.points[item.faces], 1, 0)
    return np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2


def zone(region, patch=None):
    plane = Plane.through([0, 0, 5], [0.6, 0, 0.8])
    fit = PlaneFit(plane, 0.0, 0.0, np.nan, 3, 0, np.ones(2), "flat")
    return Zone("Z1", fit, region, region.area, patch)


def fracture(*zones):
    return Fracture("plane", zones, ())


@pytest.fixture
def ring():
    return shapely.MultiPolygon([shapely.Point(0, 0).buffer(12) - shapely.Point(1, 0).buffer(5)])


def patch():
    vertices = np.array([[0.0, 0, 0], [9, 0, 0], [0, 9, 0]])
    faces = np.array([[0, 1, 2]])
    return Surface(vertices, faces, MappingProxyType({}), "patch.stl", "", 0)


def test_roles_and_order(bone, plan, catalogue, ring):
    items = scene(
        bone,
        plan(),
        catalogue,
        fracture=fracture(zone(ring)),
        joints={"joint": patch()},
        avoids={"nerve": patch(), "vessel": patch()},
    )
    roles = Counter(item.role for item in items)
    per_screw = {
        "head": 2,
        "shank": 2,
        "thread": 2,
        "gliding hole": 2,
        "axis": 2,
        "label": 2,
        "mark": 4,
    }
    others = {"bone": 1, "fracture": 1, "outline": 1, "joint": 1, "avoid": 2}
    assert roles == per_screw | others
    assert items[0].role == "bone"
    assert len({item.name for item in items}) == len(items)


def test_canal_is_told_apart_where_shells_are_known(bone, plan, catalogue):
    inner = np.arange(len(bone.faces)) >= len(bone.faces) // 2
    none = np.zeros(2)
    shells = Shells(
        of_face=inner.astype(np.int64),
        closed=none == 0,
        wound=none == 0,
        outward=np.array([1, -1], dtype=np.int8),
        nesting=np.array([0, 1]),
        body=none.astype(np.int64),
        volume=none,
    )
    items = {item.role: item for item in scene(bone, plan(), catalogue, shells=shells)}
    radius = {role: np.hypot(*items[role].points[:, :2].T).max() for role in ("bone", "hollow")}
    assert radius == pytest.approx({"bone": 13.0, "hollow": 6.0})
    assert len(items["bone"].faces) + len(items["hollow"].faces) == len(bone.faces)


def test_a_bone_without_canal_has_no_hollow(bone, plan, catalogue):
    assert "hollow" not in {item.role for item in scene(bone, plan(), catalogue)}


def test_a_planar_fracture_is_filled_but_for_the_canal(bone, plan, catalogue, ring):
    items = scene(bone, plan(), catalogue, fracture=fracture(zone(ring)))
    drawn = next(item for item in items if item.role == "fracture")
    assert area(drawn) == pytest.approx(ring.area)
    normal, point = np.array([0.6, 0, 0.8]), np.array([0, 0, 5])
    assert (drawn.points - point) @ normal == pytest.approx(0.0, abs=1e-9)


def test_a_fracture_surface_is_drawn_as_it_was_given(bone, plan, catalogue, ring):
    items = scene(bone, plan(), catalogue, fracture=fracture(zone(ring, patch())))
    drawn = next(item for item in items if item.role == "fracture")
    assert np.array_equal(drawn.points, patch().vertices)


def test_the_fracture_line_goes_round_the_outer_edge(bone, plan, catalogue, ring):
    items = scene(bone, plan(), catalogue, fracture=fracture(zone(ring)))
    edge = next(item for item in items if item.role == "outline").points
    assert np.linalg.norm(edge - [0, 0, 5], axis=1) == pytest.approx(12.0)
    assert edge[0] == pytest.approx(edge[-1])


def test_washers_come_from_the_catalogue(bone, plan, record, catalogue):
    washer = catalogue.screws["HB6.5"].washer
    items = scene(bone, plan(record(kind="HB6.5", washer=washer)), catalogue)
    assert Counter(item.role for item in items)["washer"] == 1


def test_an_unknown_kind_is_refused(bone, plan, record, catalogue):
    with pytest.raises(CatalogueError, match="HX9"):
        scene(bone, plan(record(kind="HX9")), catalogue)
