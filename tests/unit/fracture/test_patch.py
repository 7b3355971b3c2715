"""Fractures from a surface of their own."""

import numpy as np
import pytest
from specimens import cylinder, tube

from trajplan.bone import Surface, as_surface, make_bone
from trajplan.errors import CaseError
from trajplan.fracture import distance_to_outline, fracture_depth, fracture_from_surface, outline

BONE = make_bone(as_surface(cylinder(14, 100)))


def sheet(height, radius=13.9, rings=14, sides=48, inner=0.0):
    """A disc, or a ring, of triangles over the plane z = 50, raised by ``height(x, y)``."""
    r, a = np.meshgrid(np.linspace(inner, radius, rings), np.arange(sides) * 2 * np.pi / sides)
    x, y = (r * np.cos(a)).ravel(), (r * np.sin(a)).ravel()
    vertices = np.column_stack([x, y, 50 + height(x, y)])
    i, j = np.meshgrid(np.arange(sides), np.arange(rings - 1), indexing="ij")
    p, q = i * rings + j, (i + 1) % sides * rings + j
    faces = np.concatenate(
        [np.stack(t, axis=-1).reshape(-1, 3) for t in ((p, p + 1, q), (p + 1, q + 1, q))]
    )
    return as_surface((vertices, faces), name="fracture.stl")


def flat(x, y):
    return 0 * x


def rough(x, y):
    return 0.4 * np.random.default_rng(0).normal(size=len(x))


def dished(x, y):
    return (x**2 + y**2) / 40


def stepped(x, y):
    return np.where(x > 9, 6.0, 0.0)


def test_flat_patch():
    fracture = fracture_from_surface(BONE, sheet(flat))
    (zone,) = fracture.zones
    polygon = 0.5 * 48 * 13.9**2 * np.sin(2 * np.pi / 48)
    assert zone.area == pytest.approx(polygon)
    assert zone.region.area == pytest.approx(polygon)
    assert zone.plane.normal == pytest.approx([0, 0, 1])
    assert zone.fit.normal_bound == pytest.approx(0, abs=1e-6)
    assert (fracture.source, fracture.cautions, zone.fit.flatness) == ("mesh", (), "flat")


def test_ring_patch_keeps_its_hole():
    bone = make_bone(as_surface(tube()))
    fracture = fracture_from_surface(bone, sheet(flat, inner=9.1), "group")
    (zone,) = fracture.zones
    assert fracture.source == "group"
    assert zone.area == pytest.approx(0.5 * 48 * (13.9**2 - 9.1**2) * np.sin(2 * np.pi / 48))
    assert len(zone.region.geoms[0].interiors) == 1
    assert fracture.cautions == ()


def test_patch_across_the_canal_is_said():
    bone = make_bone(as_surface(tube()))
    (line,) = fracture_from_surface(bone, sheet(flat)).cautions
    assert "spans the canal" in line
    assert "254 mm²" in line  # half sides r² sin(2 pi / sides), r = 9, 64 sides: 254.1


def test_patch_larger_than_the_bone_is_said():
    (line,) = fracture_from_surface(BONE, sheet(flat, radius=20)).cautions
    assert "51 % of the fracture surface lies outside the bone" in line


def test_rough_patch_has_its_own_area():
    (zone,) = fracture_from_surface(BONE, sheet(rough)).zones
    assert zone.area > 1.02 * zone.region.area
    assert 0.1 < zone.fit.rms < 0.6
    assert 0.01 < zone.fit.normal_bound < 5


def test_curved_patch_is_told_from_an_uneven_one():
    curved = fracture_from_surface(BONE, sheet(dished), most=1)
    assert curved.zones[0].fit.flatness == "curved"
    assert any("curved" in line for line in curved.cautions)
    uneven = fracture_from_surface(BONE, sheet(lambda x, y: 4 * rough(x, y)))
    assert uneven.zones[0].fit.flatness == "uneven"


def test_shallow_dish_is_flat():
    shallow = fracture_from_surface(BONE, sheet(lambda x, y: dished(x, y) / 8))
    assert shallow.zones[0].fit.flatness == "flat"


def test_step_is_left_out_and_said():
    fracture = fracture_from_surface(BONE, sheet(stepped), most=1)
    assert fracture.zones[0].plane.normal == pytest.approx([0, 0, 1], abs=0.05)
    assert "lies off the plane of the rest" in fracture.cautions[0]


def test_depth_is_taken_on_the_patch_and_on_the_plane_beside_it():
    (zone,) = fracture_from_surface(BONE, sheet(dished), most=1).zones
    origin = np.array([[0.3, 0.2, 0], [7, 7.1, 0], [0.2, 30, 0], [0, 0, 50.0]])
    direction = np.array([[0, 0, 1.0], [0, 0, 1], [0, 0, 1], [1, 0, 0]])
    depth, on_patch = fracture_depth(zone, origin, direction)
    assert on_patch[:3].tolist() == [True, True, False]
    assert depth[0] == pytest.approx(50, abs=0.05)
    assert depth[1] == pytest.approx(50 + (7**2 + 7.1**2) / 40, abs=0.05)
    assert depth[2] == pytest.approx(zone.plane.point[2], abs=1e-6)


def test_of_several_crossings_the_nearest_counts():
    """A trough that a flat line meets twice, at x = ±sqrt(40 h)."""
    (zone,) = fracture_from_surface(BONE, sheet(dished), most=1).zones
    origin, direction = np.array([[-30, 0.1, 51.6]]), np.array([[1.0, 0, 0]])
    near, on_patch = fracture_depth(zone, origin, direction, np.array([0.0]))
    far, _ = fracture_depth(zone, origin, direction, np.array([60.0]))
    assert on_patch.all()
    assert near[0] == pytest.approx(22, abs=0.1)
    assert far[0] == pytest.approx(38, abs=0.1)
    assert fracture_depth(zone, origin, direction)[0][0] in (near[0], far[0])


def test_depth_of_no_line():
    (zone,) = fracture_from_surface(BONE, sheet(flat)).zones
    depth, on_patch = fracture_depth(zone, np.empty((0, 3)), np.empty((0, 3)))
    assert depth.shape == on_patch.shape == (0,)


def test_outline_follows_the_patch():
    (zone,) = fracture_from_surface(BONE, sheet(dished), most=1).zones
    (ring,) = outline(zone)
    assert ring[:, 2] == pytest.approx(np.full(len(ring), 50 + 13.9**2 / 40))
    away = distance_to_outline(zone, np.array([[0, 0, 50 + 13.9**2 / 40]]))
    assert away == pytest.approx([13.9 * np.cos(np.pi / 48)], abs=1e-6)


def raised(surface, by):
    return as_surface((surface.vertices + np.array([0, 0, by]), surface.faces), name="fracture.stl")


def test_patch_away_from_the_bone():
    with pytest.raises(CaseError, match=r"lies 20\.0 mm away from the bone") as caught:
        fracture_from_surface(BONE, raised(sheet(flat), 70))
    assert caught.value.file == "fracture.stl"
    assert fracture_from_surface(BONE, raised(sheet(flat), 54)).zones  # 4 mm: a gap


def test_patch_without_area_or_width():
    line = np.array([[0, 0, 50], [5, 0, 50], [9, 0, 50.0]])
    with pytest.raises(CaseError, match="no area"):
        fracture_from_surface(BONE, Surface(line, np.array([[0, 1, 2]]), {}, "x", "", 0))
    with pytest.raises(CaseError, match="no area"):
        fracture_from_surface(BONE, Surface(line, np.empty((0, 3), np.int64), {}, "x", "", 0))
    thread = line + np.array([[0, 0, 0], [0, 1e-4, 0], [0, 0, 0]])
    with pytest.raises(CaseError, match="no plane"):
        fracture_from_surface(BONE, Surface(thread, np.array([[0, 1, 2]]), {}, "x", "", 0))
