"""A fracture region as points: moments by hand, whatever the size of the pieces."""

import numpy as np
import pytest
import shapely
from specimens import box, pipe

from trajplan.bone import as_surface, make_bone
from trajplan.errors import CaseError, DegenerateError
from trajplan.fracture import fracture_from_plane, fracture_from_surface
from trajplan.mechanics import region_quadrature

SIZES = [0.7, 3.0, 50.0]


def zone_of(mesh, point=(0, 0, 50), normal=(0, 0, 1)):
    return fracture_from_plane(make_bone(as_surface(mesh)), point, normal).zones[0]


def moments(region):
    offset = region.points - region.areas @ region.points / region.area
    return (offset * region.areas[:, None]).T @ offset


@pytest.mark.parametrize("size", SIZES)
def test_rectangle(size):
    region = region_quadrature(zone_of(box((-10, -5, 0), (10, 5, 100))), size)
    assert region.area == pytest.approx(200.0)
    assert region.areas @ region.points / region.area == pytest.approx([0, 0, 50], abs=1e-9)
    # b h³ / 12 each way
    assert np.diag(moments(region)) == pytest.approx(
        [10 * 20**3 / 12, 20 * 10**3 / 12, 0], abs=1e-6
    )


@pytest.mark.parametrize("size", SIZES)
def test_ring_leaves_the_canal_out(size):
    zone = zone_of(pipe(14.0, 9.0, 100.0, 512))
    region = region_quadrature(zone, size)
    assert region.area == pytest.approx(np.pi * (14**2 - 9**2), rel=1e-4)
    assert np.linalg.norm(region.points[:, :2], axis=1).min() > 9.0 * np.cos(np.pi / 512)
    # π (R⁴ - r⁴) / 4
    assert np.diag(moments(region))[:2] == pytest.approx(np.pi / 4 * (14**4 - 9**4), rel=1e-3)


def test_thin_ring_is_cut_into_no_more_than_some_hundred_cells_a_side():
    """Along a grid of its wall's thickness it would take millions; its moments stay right."""
    region = region_quadrature(zone_of(pipe(14.0, 13.99, 100.0, 512)), 0.01)
    assert len(region.points) < 50_000
    assert region.area == pytest.approx(np.pi * (14**2 - 13.99**2), rel=1e-4)
    assert np.diag(moments(region))[:2] == pytest.approx(np.pi / 4 * (14**4 - 13.99**4), rel=1e-3)


@pytest.mark.parametrize("size", SIZES)
def test_moments_do_not_depend_on_the_size(size):
    """An oblique section, a polygon of hundreds of corners."""
    zone = zone_of(pipe(14.0, 9.0, 100.0, 200), normal=(1, 0.4, 2))
    region, fine = region_quadrature(zone, size), region_quadrature(zone, 1.7)
    assert region.area == pytest.approx(shapely.area(zone.region), rel=1e-9)
    assert moments(region) == pytest.approx(moments(fine), rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("size", SIZES)
def test_patch_keeps_its_triangles(size):
    """A low roof: two slopes of 1 in 10, each 20 by 10 mm in the shadow."""
    corners = [
        (-10, -10, 50),
        (10, -10, 50),
        (-10, 0, 51),
        (10, 0, 51),
        (-10, 10, 50),
        (10, 10, 50),
    ]
    faces = np.array([[0, 1, 3], [0, 3, 2], [2, 4, 5], [2, 5, 3]])
    bone = make_bone(as_surface(box((-10, -10, 0), (10, 10, 100))))
    zone = fracture_from_surface(bone, as_surface((np.array(corners, dtype=float), faces))).zones[0]
    region = region_quadrature(zone, size)
    steep = np.hypot(1.0, 0.1)
    assert region.area == pytest.approx(400 * steep)
    assert np.abs(region.normals[:, 2]) == pytest.approx(np.full(len(region.areas), 1 / steep))
    assert (region.normals @ zone.plane.normal > 0).all()
    if size < 10:
        assert region.areas.max() < size**2


def test_size_of_nothing():
    with pytest.raises(DegenerateError, match="size"):
        region_quadrature(zone_of(box((-10, -5, 0), (10, 5, 100))), 0.0)


def test_zone_without_area():
    zone = zone_of(box((-10, -5, 0), (10, 5, 100)))
    flat = shapely.MultiPolygon([shapely.Polygon([(0, 0), (1, 0), (2, 0)])])
    hollow = type(zone)(zone.id, zone.fit, flat, 0.0, None)
    with pytest.raises(CaseError, match="no area"):
        region_quadrature(hollow, 1.0)
