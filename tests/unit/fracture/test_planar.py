"""Fractures from a plane and from points: regions, cautions, refusals."""

import numpy as np
import pytest
from specimens import (
    box,
    cube,
    cylinder,
    joined,
    nested_cubes,
    open_box,
    pipe,
    touching_boxes,
    tube,
)

from trajplan.bone import as_surface, make_bone
from trajplan.errors import CaseError
from trajplan.fracture import (
    fracture_from_plane,
    fracture_from_points,
    outline,
    whole_region,
)


def bone_of(mesh):
    return make_bone(as_surface(mesh))


def polygon_area(radius, sides=64):
    """Area of a regular polygon with its corners on a circle (closed form)."""
    return 0.5 * sides * radius**2 * np.sin(2 * np.pi / sides)


def zone_of(mesh, point, normal):
    fracture = fracture_from_plane(bone_of(mesh), point, normal)
    return fracture.zones[0], fracture.cautions


def test_cube_across():
    zone, cautions = zone_of(cube(20), [3, 0, 0], [0, 0, 2])
    assert zone.area == pytest.approx(400)
    assert zone.fit.extents == pytest.approx([20, 20])
    assert zone.plane.point == pytest.approx([3, 0, 0])
    assert np.isnan(zone.fit.normal_bound)
    assert (zone.fit.rms, zone.fit.flatness, zone.patch) == (0.0, "flat", None)
    assert cautions == ()


def test_cube_across_its_space_diagonal():
    """Closed form: a regular hexagon with edges of half a face diagonal."""
    zone, _ = zone_of(cube(20), [0, 0, 0], [1, 1, 1])
    assert zone.area == pytest.approx(1.5 * np.sqrt(3) * 200)


@pytest.mark.parametrize("tilt", [0, 30, 60])
@pytest.mark.parametrize("mesh", [tube(), pipe()])
def test_canal_is_cut_out(mesh, tilt):
    """A closed canal, and one that is open at both ends: a ring either way."""
    c, s = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    zone, cautions = zone_of(mesh, [0, 0, 50], [s, 0, c])
    assert zone.area == pytest.approx((polygon_area(14) - polygon_area(9)) / c, rel=1e-9)
    assert zone.fit.extents == pytest.approx([28 / c, 28], rel=2e-3)
    assert len(zone.region.geoms[0].interiors) == 1
    assert cautions == ()


def test_hollow_whose_normals_point_the_wrong_way():
    zone, _ = zone_of(nested_cubes(inner_outward=True), [0, 0, 0], [0, 0, 1])
    assert zone.area == pytest.approx(900 - 100)


@pytest.mark.parametrize("z", [30.0, 50.0])
def test_plane_through_vertices_and_along_edges(z):
    """The corners of every ring lie in the plane; a lone vertex too."""
    below, above = cylinder(10, 30), cylinder(10, 20, start=30.0)
    mesh = joined(below, above)  # two bodies that touch at z = 30
    if z == 50.0:
        mesh = joined(mesh, cylinder(10, 20, start=50.0))
    zone, cautions = zone_of(mesh, [0, 0, z], [0, 0, 1])
    assert zone.area == pytest.approx(polygon_area(10))
    assert cautions == ()


def test_plane_in_which_mesh_edges_lie():
    """A prism cut along its length through its seams: every vertex is in the plane or not."""
    zone, _ = zone_of(cylinder(10, 100), [0, 0, 50], [0, 1, 0])
    assert zone.area == pytest.approx(2000)


def test_touching_bodies_are_united():
    zone, cautions = zone_of(touching_boxes(), [5, 5, 5], [0, 0, 1])
    assert zone.area == pytest.approx(300)
    assert cautions == ()


def test_overlapping_bodies_are_united():
    zone, _ = zone_of(joined(cube(20), cube(20, (15, 0, 0))), [0, 0, 0], [0, 0, 1])
    assert zone.area == pytest.approx(2 * 400 - 100)


def test_part_nearest_the_point_is_taken_and_the_rest_is_said():
    mesh = joined(cube(10), cube(20, (50, 0, 0)), cube(6, (0, 40, 0)))
    zone, cautions = zone_of(mesh, [31, 0, 0], [0, 0, 1])
    assert zone.area == pytest.approx(400)
    assert len(cautions) == 1
    assert "2 other places (136 mm² in all)" in cautions[0]
    assert zone_of(mesh, [0, 39, 0], [0, 0, 1])[0].area == pytest.approx(36)


def test_a_lengthwise_split_of_an_open_shaft_has_two_walls():
    """Closed form: twice the wall of 5 mm over 100 mm; the line runs on the outside alone."""
    zone, cautions = zone_of(pipe(), [10, 0, 50], [0, 1, 0])
    assert zone.area == pytest.approx(2 * 5 * 100)
    assert zone.region.area == pytest.approx(1000)
    assert zone.fit.extents == pytest.approx([100, 28])
    assert whole_region(zone).area == pytest.approx(28 * 100)
    assert cautions == ()
    lines = outline(zone)
    assert len(lines) == 2
    for line in lines:  # up the outside, and over both cut ends
        corner = line[np.append(np.linalg.norm(np.diff(line, axis=0), axis=1) > 1e-9, True)]
        assert np.abs(corner[:, 0]) == pytest.approx([9.0, 14.0, 14.0, 9.0])
        assert np.ptp(line[:, 2]) == pytest.approx(100.0)


def test_a_slanted_split_of_an_open_shaft_has_both_walls_too():
    """Along the shaft but for 5 degrees, out through both cut ends: chord by chord."""
    c, s = np.cos(np.radians(85)), np.sin(np.radians(85))
    zone, cautions = zone_of(pipe(), [0, 0, 50], [0, s, c])
    height = np.linspace(-50, 50, 2001)  # at each the chord of a circle, at y = -height c / s
    chord = [2 * np.sqrt(radius**2 - (height * c / s) ** 2) for radius in (14, 9)]
    assert zone.area == pytest.approx(np.trapezoid(chord[0] - chord[1], height) / s, rel=0.01)
    assert cautions == ()


def test_what_lies_across_a_notch_or_beside_a_second_bone_is_no_wall_of_the_canal():
    """A rail with two flanges, open between them; and two rods side by side."""
    web = joined(box((0, 0, 0), (5, 20, 100)), box((5, 0, 0), (15, 5, 100)))
    rail = joined(web, box((15, 0, 0), (20, 20, 100)))
    zone, cautions = zone_of(rail, [2, 10, 50], [0, 1, 0])
    assert zone.area == pytest.approx(500)
    assert "1 other place (500 mm² in all)" in cautions[0]
    rods = joined(
        cylinder(5, 100), tuple(a + [[14, 0, 0], 0][i] for i, a in enumerate(cylinder(5, 100)))
    )
    zone, cautions = zone_of(rods, [0, 0, 50], [0, 1, 0])
    assert zone.area == pytest.approx(1000)
    assert len(cautions) == 1


def test_point_in_the_canal_means_the_bone_round_it():
    """A splinter in the canal, nearer to the point than the wall, does not win."""
    mesh = joined(pipe(14, 9), cube(4, (0, 0, 50)))
    zone, _ = zone_of(mesh, [0, 4, 50], [0, 0, 1])
    assert zone.area == pytest.approx(polygon_area(14) - polygon_area(9))


def test_open_surface_is_closed_with_a_line_and_said():
    zone, cautions = zone_of(open_box(10), [0, 0, 0], [1, 0, 0])
    assert zone.area == pytest.approx(100)
    assert len(cautions) == 1
    assert "1 gap, at most 10.0 mm wide" in cautions[0]


def test_outline_broken_in_two_is_joined_across_its_gaps():
    """Two windows in opposite walls of a box: short gaps are bridged, not long chords."""
    vertices, faces = cylinder(10, 100)
    middle = vertices[faces].mean(axis=1)
    window = (np.abs(middle[:, 1]) < 1.6) & (np.abs(middle[:, 0]) > 9)
    zone, cautions = zone_of((vertices, faces[~window]), [0, 0, 50], [0, 0, 1])
    assert zone.area == pytest.approx(polygon_area(10), rel=0.02)
    assert "2 gaps" in cautions[0]


def test_scrap_between_two_gaps_stays_in_the_outline():
    """One facet left between two missing on either side: two short chords, not a long one."""
    vertices, faces = cylinder(10, 100)
    step = 2 * np.pi / 64
    corner = vertices[faces]
    middle = 0.5 * (corner.min(axis=1) + corner.max(axis=1))
    facet = np.floor(np.arctan2(middle[:, 1], middle[:, 0]) / step)
    side = np.ptp(corner[..., 2], axis=1) > 0
    gone = side & np.isin(facet, [8, 9, 11, 12])
    zone, cautions = zone_of((vertices, faces[~gone]), [0, 0, 50], [0, 0, 1])
    cap = 0.5 * 10**2 * (2 * np.sin(step) - np.sin(2 * step))  # between chord and two facets
    assert zone.area == pytest.approx(polygon_area(10) - 2 * cap, rel=1e-9)
    assert "2 gaps, at most 2.0 mm wide" in cautions[0]


def test_closed_canal_in_an_open_bone_is_cut_out():
    vertices, faces = cylinder(10, 100)
    lid = (vertices[faces][..., 2] == 100).all(axis=1)
    mesh = joined((vertices, faces[~lid]), cylinder(5, 60, start=20))
    zone, _ = zone_of(mesh, [0, 0, 50], [0, 0, 1])
    assert zone.area == pytest.approx(polygon_area(10) - polygon_area(5))


def test_open_canal_inside_a_closed_bone_is_cut_out():
    vertices, faces = cylinder(5, 60, start=20)
    canal = vertices, faces[np.isclose(np.ptp(vertices[faces][..., 2], axis=1), 60)]
    zone, _ = zone_of(joined(cylinder(10, 100), canal), [0, 0, 50], [0, 0, 1])
    assert zone.area == pytest.approx(polygon_area(10) - polygon_area(5))


@pytest.mark.parametrize(
    ("point", "normal", "words"),
    [
        ([0, 0, 25], [0, 0, 1], "misses the bone, whose nearest vertex lies 15.0 mm away"),
        ([0, 0, 10], [0, 0, 1], "only touches the bone"),  # at the top face
        ([10, 10, 0], [1, 1, 0], "only touches the bone"),  # at an edge
        ([0, 0, 0], [0, 0, 0], "no plane"),
        ([0, 0, np.nan], [0, 0, 1], "no plane"),
        ([0, 0], [0, 0, 1], "no plane"),
    ],
)
def test_planes_that_are_none(point, normal, words):
    with pytest.raises(CaseError, match=words) as caught:
        fracture_from_plane(bone_of(cube(20)), point, normal)
    assert caught.value.where == "fracture.plane"


TWELFTHS = np.arange(12) * np.pi / 6
RIM = np.column_stack([14 * np.cos(TWELFTHS), 14 * np.sin(TWELFTHS), np.full(12, 40.0)])


def test_points_on_a_rim():
    fracture = fracture_from_points(bone_of(tube()), RIM)
    (zone,) = fracture.zones
    assert fracture.source == "points"
    assert zone.plane.normal == pytest.approx([0, 0, 1], abs=1e-9)
    assert zone.area == pytest.approx(polygon_area(14) - polygon_area(9))
    assert zone.fit.used == 12
    assert fracture.cautions == ()


def test_wrong_pick_is_left_out_and_named():
    points = RIM + 0.02 * np.random.default_rng(0).normal(size=RIM.shape)
    points[4, 2] += 20
    fracture = fracture_from_points(bone_of(tube()), points)
    assert fracture.zones[0].fit.left_out == 1
    assert fracture.cautions == (
        "Picked point 5 lies off the plane of the others and did not count.",
    )


def test_pick_far_from_the_bone_is_named():
    points = RIM.copy()
    points[2, :2] *= 2
    fracture = fracture_from_points(bone_of(tube()), points)
    assert any("point 3 lies 14.0 mm away from the bone" in line for line in fracture.cautions)


def test_three_picks_are_enough_but_doubtful():
    fracture = fracture_from_points(bone_of(tube()), RIM[::4])
    assert fracture.zones[0].fit.normal_bound == 90.0
    assert any("Three points" in line for line in fracture.cautions)


def test_loose_picks_say_how_well_the_normal_is_known():
    points = RIM[::2] + [[0, 0, z] for z in (3, -3, 3, -3, 3, -3)]
    fracture = fracture_from_points(bone_of(tube()), points)
    assert fracture.zones[0].fit.flatness == "uneven"
    assert any("uneven" in line for line in fracture.cautions)
    assert any("95 % bound" in line for line in fracture.cautions)


def arc(half, count, error=0.0):
    """Points on the near side of the rim, up to ``half`` degrees off, picked wrong in turn."""
    turn = np.radians(np.linspace(-half, half, count))
    height = 40.0 + error * (-1.0) ** np.arange(count)
    return np.column_stack([14 * np.cos(turn), 14 * np.sin(turn), height])


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (arc(20.0, 9), "on a strip only 0.8 mm wide"),  # 14 (1 - cos 20)
        (arc(20.0, 3), "on a strip only 0.8 mm wide"),
        (arc(45.0, 5, 1.5), "its normal is known to [5-8][0-9] degrees only"),
    ],
)
def test_picks_on_the_near_side_alone_fix_no_plane(points, words):
    with pytest.raises(CaseError, match=words) as caught:
        fracture_from_points(bone_of(tube()), points)
    assert caught.value.where == "fracture.points"
    assert "spread round the bone" in caught.value.remedy


def test_picks_over_a_quarter_of_the_rim_are_enough():
    """A strip of 4.1 mm (14 (1 - cos 45)), and picks that agree."""
    fracture = fracture_from_points(bone_of(tube()), arc(45.0, 9, 0.05))
    assert fracture.zones[0].fit.normal_bound < 10.0


@pytest.mark.parametrize(
    "points", [RIM[:2], np.outer(np.arange(5), [1, 2, 3]), [[1, 2, 3]] * 4, [[1, 2]], RIM + 1e3]
)
def test_points_that_define_no_fracture(points):
    with pytest.raises(CaseError) as caught:
        fracture_from_points(bone_of(tube()), points)
    assert caught.value.where == "fracture.points"


def test_outline_is_outside_only_and_lies_on_the_bone():
    fracture = fracture_from_plane(bone_of(tube()), [0, 0, 50], [0, 0.5, 1])
    (ring,) = outline(fracture.zones[0])
    radius = np.hypot(ring[:, 0], ring[:, 1])
    assert ring[0] == pytest.approx(ring[-1])
    assert radius.max() == pytest.approx(14)
    assert radius.min() >= 14 * np.cos(np.pi / 64) - 1e-9


def test_coordinates_far_from_the_origin():
    vertices, faces = box((0, 0, 0), (10, 20, 30))
    shift = np.array([5e3, -7e3, 9e3])
    zone, _ = zone_of((vertices + shift, faces), shift + 5, [0.3, 0.1, 1])
    assert zone.area == pytest.approx(200 * np.sqrt(1.1), rel=1e-9)
