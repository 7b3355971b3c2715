"""Dividing a fracture surface into planar zones."""

import numpy as np
import pytest
from builders import grid
from specimens import box, cylinder, tube

from trajplan.bone import Surface, as_surface, make_bone
from trajplan.errors import DegenerateError
from trajplan.fracture import (
    distance_to_outline,
    fracture_depth,
    fracture_from_surface,
    outline,
    zones_from_patch,
)
from trajplan.fracture._cells import cells_of, plane_error
from trajplan.fracture._division import best_division, merge_order
from trajplan.fracture._parts import Sheet, _are_planes


def flat(x, y):
    return 0.0 * x


def wedge(x, y):
    """Two planes that meet along x = 0, each 30 degrees off the level."""
    return -np.abs(x) * np.tan(np.radians(30.0))


LEFT = [-np.sin(np.radians(30.0)), 0.0, np.cos(np.radians(30.0))]
RIGHT = [np.sin(np.radians(30.0)), 0.0, np.cos(np.radians(30.0))]


def off(zone, normal):
    """Degrees between the normal of a zone and another."""
    normal = np.asarray(normal) / np.linalg.norm(normal)
    return np.degrees(np.arccos(min(1.0, abs(float(zone.plane.normal @ normal)))))


def by_x(zones):
    return sorted(zones, key=lambda zone: zone.plane.point[0])


def all_triangles(zones):
    """Triangles of all zones, sorted."""
    corners = np.concatenate([z.patch.triangles().reshape(-1, 9) for z in zones])
    return corners[np.lexsort(corners.T)]


def test_a_flat_patch_is_one_zone():
    patch = grid(flat)
    (zone,), cautions = zones_from_patch(None, patch)
    assert (zone.id, cautions) == ("Z1", ())
    assert zone.patch is patch
    assert zone.area == pytest.approx(28.0**2)


@pytest.mark.parametrize("seed", range(5))
def test_a_plane_with_noise_is_one_zone(seed):
    (zone,), _ = zones_from_patch(None, grid(flat, jitter=0.3, seed=seed))
    assert off(zone, [0, 0, 1]) < zone.fit.normal_bound < 1.0


@pytest.mark.parametrize("seed", range(3))
def test_a_surface_too_rough_for_the_limit_is_still_one_zone(seed):
    """No division makes white noise flat: the limit is not met, and that is said."""
    (zone,), cautions = zones_from_patch(None, grid(flat, jitter=1.2, seed=seed))
    assert zone.fit.flatness == "uneven"
    assert any("uneven" in line for line in cautions)


def test_a_wedge_is_two_zones_with_the_planes_own_normals():
    patch = grid(wedge)
    zones, cautions = zones_from_patch(None, patch)
    assert [zone.id for zone in zones] == ["Z1", "Z2"]
    left, right = by_x(zones)
    assert off(left, LEFT) < 1e-6
    assert off(right, RIGHT) < 1e-6
    slanted = 14.0 * 28.0 / np.cos(np.radians(30.0))
    assert [zone.area for zone in zones] == pytest.approx([slanted] * 2, rel=0.01)
    assert [zone.region.area for zone in zones] == pytest.approx([slanted] * 2, rel=0.01)
    (caution,) = cautions
    assert "divided into 2 zones, whose normals differ by up to 60 degrees" in caution
    assert np.array_equal(
        all_triangles(zones), all_triangles(zones_from_patch(None, patch, most=1)[0])
    )


@pytest.mark.parametrize("seed", range(5))
def test_a_noisy_wedge_is_two_zones(seed):
    zones, _ = zones_from_patch(None, grid(wedge, jitter=0.3, seed=seed))
    left, right = by_x(zones)
    assert off(left, LEFT) < left.fit.normal_bound + 0.5  # the seam is a cell wide
    assert off(right, RIGHT) < right.fit.normal_bound + 0.5


def test_a_wedge_turned_in_space_is_the_same_two_zones():
    patch = grid(wedge, jitter=0.1)
    turn = np.linalg.qr(np.random.default_rng(3).normal(size=(3, 3)))[0]
    turned = as_surface((patch.vertices @ turn.T + [100, -50, 900], patch.faces))
    zones, _ = zones_from_patch(None, turned)
    want = [turn @ LEFT, turn @ RIGHT]
    assert len(zones) == 2
    assert min(off(zones[0], n) for n in want) < 1.0
    assert min(off(zones[1], n) for n in want) < 1.0


def test_few_triangles_are_enough():
    """Two squares of two triangles each, at a right angle."""
    vertices = np.array([[0, 0, 0], [20, 0, 0], [0, 20, 0], [20, 20, 0], [0, 0, 20], [0, 20, 20.0]])
    patch = as_surface((vertices, np.array([[0, 1, 2], [1, 3, 2], [0, 2, 4], [2, 5, 4]])))
    zones, _ = zones_from_patch(None, patch)
    assert sorted(np.abs(zone.plane.normal).argmax() for zone in zones) == [0, 2]
    assert [zone.area for zone in zones] == pytest.approx([400.0, 400.0])


def test_a_step_has_parallel_zones():
    zones, _ = zones_from_patch(None, grid(lambda x, y: np.where(x > 4.0, 8.0, 0.0)))
    level = [zone for zone in zones if off(zone, [0, 0, 1]) < 1.0]
    assert len(level) == 2
    assert abs(level[0].plane.point[2] - level[1].plane.point[2]) == pytest.approx(8.0, abs=0.1)


def test_a_dish_is_divided_and_each_zone_is_better():
    patch = grid(lambda x, y: (x**2 + y**2) / 40)
    (whole,), _ = zones_from_patch(None, patch, most=1)
    zones, cautions = zones_from_patch(None, patch)
    assert 4 <= len(zones) <= 12
    assert max(zone.fit.rms for zone in zones) < 0.3 * whole.fit.rms
    assert sum(zone.area for zone in zones) == pytest.approx(whole.area)
    assert np.array_equal(all_triangles(zones), all_triangles([whole]))
    assert "divided into" in cautions[0]


def test_each_zone_hangs_together():
    patch = grid(lambda x, y: (x**2 + y**2) / 40, jitter=0.2)
    cells = cells_of(patch.vertices, patch.faces)
    order = merge_order(cells)
    for count in range(2, 13):
        part, _ = best_division(cells, order, count)
        assert len(np.unique(part)) == count
        for number in range(count):
            inner = cells.links[(part[cells.links] == number).all(axis=1)]
            reached = {int(np.flatnonzero(part == number)[0])}
            while grown := {int(b) for a, b in (*inner, *inner[:, ::-1]) if a in reached} - reached:
                reached |= grown
            assert reached == set(np.flatnonzero(part == number).tolist())


def test_moments_of_cells_are_those_of_the_surface():
    """Sum of squared heights over the best plane, against a fine sampling of the triangles."""
    patch = grid(wedge, size=9)
    cells = cells_of(patch.vertices, patch.faces)
    assert cells.area.sum() == pytest.approx(28.0**2 / np.cos(np.radians(30.0)))
    # z over |x| from 0 to 14 is level in the mean: variance (14 tan 30)^2 / 12 (closed form)
    variance = (14.0 * np.tan(np.radians(30.0))) ** 2 / 12.0
    error = plane_error(cells.moments.sum(axis=0)) / cells.area.sum()
    assert error == pytest.approx(variance)


def test_least_number_is_taken_and_the_most_is_kept():
    patch = grid(lambda x, y: (x**2 + y**2) / 20)
    zones, cautions = zones_from_patch(None, patch, most=3)
    assert len(zones) == 3
    assert "Even 3 zones do not make every one of them flat" in cautions[1]
    with pytest.raises(ValueError, match="most must be 1 or above"):
        zones_from_patch(None, patch, most=0)


def test_numbers_go_on_from_another_fracture():
    zones, _ = zones_from_patch(None, grid(wedge), first=4)
    assert [zone.id for zone in zones] == ["Z4", "Z5"]
    assert zones[0].patch.name == "fracture.stl:Z4"


def test_a_zone_too_small_for_a_screw_is_said():
    """A disc of 3 x 9 mm has 573 mm² (closed form), a side of the wedge 453 mm²."""
    _, cautions = zones_from_patch(None, grid(wedge), thread=9.0)
    small = [line for line in cautions if "small" in line]
    rest = "small for a screw of 9.0 mm, which with its own diameter of bone on either side takes"
    assert small == [f"Zone Z{n} is only 453 mm²: {rest} 573 mm²." for n in (1, 2)]
    assert not any("small" in line for line in zones_from_patch(None, grid(wedge), thread=4.5)[1])


def test_a_crack_and_an_island_part_nothing():
    """A flat patch in two pieces, 1 mm apart, is one zone, and so is each side of a wedge."""

    def strip(x, y):
        return np.abs(y - 3.0) < 1.0

    patch = grid(flat, skip=strip)
    (zone,), cautions = zones_from_patch(None, patch)
    assert zone.area == pytest.approx(28.0**2 * len(patch.faces) / (2 * 24**2))
    assert len(zone.region.geoms) == len(zone.rim) == 2
    assert cautions == ()
    assert len(zones_from_patch(None, grid(wedge, skip=strip))[0]) == 2


def test_triangles_that_share_no_vertex_are_a_surface_too():
    patch = grid(wedge, size=13)
    soup = Surface(
        patch.triangles().reshape(-1, 3), np.arange(3 * len(patch.faces)).reshape(-1, 3),
        {}, "soup.stl", "", 0,
    )  # fmt: skip
    zones, _ = zones_from_patch(None, soup)
    left, right = by_x(zones)
    assert off(left, LEFT) < 1e-6
    assert off(right, RIGHT) < 1e-6


def spike(x, y, high):
    """One vertex pulled out."""
    return np.where((np.abs(x - 7) < 0.1) & (np.abs(y) < 0.1), high, 0.0)


def test_a_spike_of_the_mesh_makes_no_zone():
    zones, _ = zones_from_patch(None, grid(lambda x, y: wedge(x, y) + spike(x, y, 6.0), size=29))
    left, right = by_x(zones)
    assert off(left, LEFT) < 0.5
    assert off(right, RIGHT) < 0.5


def test_faces_without_area_change_nothing():
    patch = grid(wedge)
    more = np.concatenate([patch.faces, [[0, 0, 1], [5, 5, 5], [0, 1, 2]]])
    zones, _ = zones_from_patch(None, Surface(patch.vertices, more, {}, "x", "", 0))
    left, right = by_x(zones)
    assert off(left, LEFT) < 1e-6
    assert off(right, RIGHT) < 1e-6


def test_no_plane_is_an_error():
    line = np.array([[0, 0, 0], [5, 0, 0], [9, 0, 0.0]])
    for faces in (np.array([[0, 1, 2]]), np.empty((0, 3), np.int64)):
        with pytest.raises(DegenerateError):
            zones_from_patch(None, Surface(line, faces, {}, "x", "", 0))


def test_a_part_that_is_but_a_line_is_no_zone():
    square = grid(flat, size=3).triangles().reshape(-1, 3)
    thread = np.array([[0, 0, 0], [9, 0, 0], [5, 1e-4, 0.0]])
    patch = Surface(
        np.concatenate([square, thread]), np.arange(len(square) + 3).reshape(-1, 3), {}, "x", "", 0
    )
    sheet = Sheet.of(patch)
    assert _are_planes(sheet, [np.arange(8), np.arange(9)])
    assert not _are_planes(sheet, [np.arange(8), np.array([8])])


def test_the_order_of_the_faces_does_not_matter():
    patch = grid(wedge, jitter=0.1)
    order = np.random.default_rng(0).permutation(len(patch.faces))
    shuffled = Surface(patch.vertices, patch.faces[order], {}, patch.name, "", 0)
    one, other = (zones_from_patch(None, p)[0] for p in (patch, shuffled))
    assert np.array_equal(all_triangles(one[:1]), all_triangles(other[:1]))


def test_the_seam_is_no_fracture_line():
    zones, _ = zones_from_patch(None, grid(wedge))
    on_seam = np.array([[0.0, 0.0, 0.0]])
    for zone in zones:
        (ring,) = outline(zone)
        assert len(ring) == 4 * 24 + 1
        assert distance_to_outline(zone, on_seam) == pytest.approx([14.0])


def test_a_line_beyond_the_seam_meets_the_neighbours_surface():
    """At x = -2, across the seam, the right plane would be 2 tan 30 too high."""
    _, right = by_x(zones_from_patch(None, grid(wedge))[0])
    origin, direction = np.array([[-2.0, 0.3, -20.0]]), np.array([[0.0, 0.0, 1.0]])
    depth, on_patch = fracture_depth(right, origin, direction)
    assert on_patch.all()
    assert depth == pytest.approx([20.0 - 2.0 * np.tan(np.radians(30.0))])


def test_rim_leaves_out_what_ends_at_the_canal():
    """A half ring in a tube of 14 and 9 mm: its border is one loop, half of it at the canal."""
    bone = make_bone(as_surface(tube(outer=14.0, inner=9.0)))
    r, a = (v.ravel() for v in np.meshgrid(np.linspace(9, 14, 6), np.linspace(0, np.pi, 41)))
    vertices = np.column_stack([r * np.cos(a), r * np.sin(a), np.full(len(r), 50.0)])
    i, j = np.meshgrid(np.arange(40), np.arange(5), indexing="ij")
    p = (i * 6 + j).ravel()
    faces = np.concatenate([np.stack([p, p + 1, p + 6], 1), np.stack([p + 1, p + 7, p + 6], 1)])
    patch = as_surface((vertices, faces))
    fracture = fracture_from_surface(bone, patch)
    (line,) = outline(fracture.zones[0])
    assert np.hypot(line[:, 0], line[:, 1]).min() > 10.9  # the ends, from the middle of the wall on
    assert np.ptp(line[:, 0]) == pytest.approx(28.0)
    (closed,) = outline(zones_from_patch(None, patch)[0][0])
    assert np.array_equal(closed[0], closed[-1])
    assert np.hypot(closed[:, 0], closed[:, 1]).min() == pytest.approx(9.0)


def test_a_closed_surface_keeps_the_outline_of_its_region():
    (zone,), _ = zones_from_patch(None, as_surface(box((0, 0, 0), (20, 20, 0.5))))
    assert zone.rim == ()
    (ring,) = outline(zone)
    assert np.ptp(ring, axis=0)[:2] == pytest.approx([20.0, 20.0])


def test_a_folded_patch_has_the_area_of_its_shadow():
    """Two thirds of the middle lie under a fold: the shadow counts once."""
    x = np.array([0.0, 10.0, 8.0, 20.0])
    z = np.array([0.0, 0.0, 0.3, 0.3])
    vertices = np.array([[a, b, c] for a, c in zip(x, z, strict=True) for b in (0.0, 10.0)])
    faces = np.array([[2 * k + a, 2 * k + b, 2 * k + c] for k in range(3)
                      for a, b, c in ((0, 2, 1), (2, 3, 1))])  # fmt: skip
    (zone,), _ = zones_from_patch(None, as_surface((vertices, faces)))
    assert zone.area > 239.0
    assert zone.region.area == pytest.approx(200.0, rel=0.01)


def test_overhang_and_canal_are_said_once_for_all_zones():
    bone = make_bone(as_surface(tube(outer=14.0, inner=9.0)))
    patch = grid(lambda x, y: 55.0 + wedge(x, y), wide=40.0)
    fracture = fracture_from_surface(bone, patch)
    assert len(fracture.zones) == 2
    assert sum("lies outside the bone" in line for line in fracture.cautions) == 1
    assert sum("spans the canal" in line for line in fracture.cautions) == 1
    solid = make_bone(as_surface(cylinder(30.0, 100.0)))
    assert len(fracture_from_surface(solid, patch).cautions) == 1  # only that it is divided
