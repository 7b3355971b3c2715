"""Which zones make up one surface, and that their normals face one side of it."""

from dataclasses import replace

import numpy as np
import pytest
from roofs import strip, zones_of
from specimens import box

from trajplan.bone import as_surface, make_bone
from trajplan.fracture import fracture_from_plane
from trajplan.mechanics import surface_regions
from trajplan.mechanics._sides import zone_sides


def facing(zones, side):
    return np.array([s * zone.plane.normal for s, zone in zip(side, zones, strict=True)])


def turned_over(zone):
    """The same zone with its plane's normal the other way, as a fit may leave it."""
    plane = replace(zone.plane, normal=-zone.plane.normal)
    return replace(zone, fit=replace(zone.fit, plane=plane))


@pytest.mark.parametrize("flip", [(), (0,), (1,), (0, 2), (0, 1, 2)])
def test_normals_are_carried_across_ridges(flip):
    """Facets at -60, 0 and 60 degrees: the outer two face 120 degrees apart."""
    zones = zones_of(strip([60.0, 0.0, -60.0]))
    assert len(zones) == 3
    zones = [turned_over(zone) if i in flip else zone for i, zone in enumerate(zones)]
    surface, side = zone_sides(zones)
    assert surface.tolist() == [0, 0, 0]
    assert np.unique(np.sign(facing(zones, side)[:, 2])).size == 1


@pytest.mark.parametrize("facet", [0, 1])
def test_triangles_wound_the_wrong_way_change_nothing(facet):
    points, faces = strip([60.0, -60.0])
    faces[4 * facet : 4 * facet + 4] = faces[4 * facet : 4 * facet + 4, ::-1]
    zones = zones_of((points, faces))
    assert len(zones) == 2
    assert np.unique(np.sign(facing(zones, zone_sides(zones)[1])[:, 2])).size == 1


def test_a_surface_that_turns_by_more_than_half_a_turn():
    """A tunnel of seven facets from -105 to 105 degrees: the ends face away from each other."""
    zones = zones_of(strip(np.linspace(105.0, -105.0, 7), width=12.0))
    surface, side = zone_sides(zones)
    assert set(surface) == {0}
    middle = np.array([zone.plane.point for zone in zones]).mean(axis=0)
    out = [
        n @ (zone.plane.point - middle) for n, zone in zip(facing(zones, side), zones, strict=True)
    ]
    (region,) = surface_regions(zones, 2.0)
    normals = region.facing_of(np.arange(len(zones)))
    steps = np.einsum("ij,ij->i", normals[:-1], normals[1:])
    assert len(zones) >= 5
    assert (steps > 0.5).all()  # neighbours turn by less than 60 degrees
    assert np.unique(np.sign(out)).size == 1


def test_pieces_that_share_no_edge_are_surfaces_of_their_own():
    low, high = strip([40.0, -40.0]), strip([40.0, -40.0])
    zones = [*zones_of(low), *zones_of((high[0] + [0, 0, 30], high[1]))]
    assert zone_sides(zones)[0].tolist() == [0, 0, 1, 1]


def test_zones_between_the_same_fragments_are_one_surface():
    low, high = strip([40.0, -40.0]), strip([40.0, -40.0])
    zones = [*zones_of(low), *zones_of((high[0] + [0, 0, 30], high[1]))]
    pairs = [(0, 1), (1, 0), (0, 1), (0, 2)]
    zones = [replace(z, fragments=pair) for z, pair in zip(zones, pairs, strict=True)]
    zones[2:] = map(turned_over, zones[2:])
    surface, side = zone_sides(zones)
    assert surface.tolist() == [0, 0, 0, 1]
    # both pieces are wound alike, so they face alike though they touch nowhere
    assert np.unique(np.sign(facing(zones, side)[:3, 2])).size == 1


def test_a_plane_is_one_surface():
    bone = make_bone(as_surface(box((-10, -5, 0), (10, 5, 100))))
    zone = fracture_from_plane(bone, (0, 0, 50), (0, 0, 1)).zones[0]
    surface, side = zone_sides([zone])
    assert (surface.tolist(), side.tolist()) == ([0], [1.0])


def test_a_region_knows_its_zones():
    zones = zones_of(strip([40.0, -40.0]))
    (region,) = surface_regions(zones, 1.5)
    for row, zone in enumerate(zones):
        own = region.of_zone(row)
        assert region.areas[own].sum() == pytest.approx(zone.area)
        assert region.over_triangles(own.astype(float))[region.zone == row] == pytest.approx(1.0)
        assert np.abs(region.normals[own] @ zone.plane.normal) == pytest.approx(1.0)
    assert (region.normals @ region.normal > 0.5).all()
    assert region.centre == pytest.approx(region.areas @ region.points / region.area)
