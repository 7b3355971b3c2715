"""Candidates: over the fracture, from both sides, within the cone; always the same."""

import numpy as np
import pytest
import shapely
from builders import grid, shaft, zone_of

from trajplan.fracture import zones_from_patch
from trajplan.geometry import to_plane
from trajplan.planner import candidates
from trajplan.planner._candidates import DIRECTIONS

ZONE = zone_of(shaft(), [0, 0, 50], [0.866, 0, 0.5])
OTHER = zone_of(shaft(), [0, 0, 30], [0, 0, 1])


def test_inside_the_outline_and_within_the_cone():
    found = candidates([ZONE], kinds=1, count=1000, max_tilt=20.0)
    filled = shapely.union_all([shapely.Polygon(part.exterior) for part in ZONE.region.geoms])
    flat = to_plane(ZONE.plane, found.axes.origin)
    assert shapely.contains_xy(filled, flat[:, 0], flat[:, 1]).all()
    assert np.abs(ZONE.plane.height(found.axes.origin)).max() < 1e-9
    cosine = found.axes.direction @ ZONE.plane.normal
    tilt = np.degrees(np.arccos(np.clip(np.abs(cosine), 0, 1)))
    assert tilt.max() <= 20 + 1e-6
    assert tilt.max() > 19
    assert (cosine > 0).sum() == (cosine < 0).sum() == len(cosine) // 2
    assert 700 < len(cosine) < 1300


def test_the_normal_itself_is_tried_at_every_place():
    found = candidates([ZONE], kinds=1, count=500, max_tilt=20.0)
    square = np.abs(found.axes.direction @ ZONE.plane.normal) > 1 - 1e-12
    assert set(found.place[square]) == set(found.place)
    assert np.bincount(found.place).tolist() == [DIRECTIONS] * (found.place.max() + 1)
    for place in (0, 1, found.place.max()):
        assert len(np.unique(found.axes.origin[found.place == place], axis=0)) == 1


def test_the_same_again():
    a, b = (candidates([ZONE, OTHER], kinds=2, count=900, max_tilt=15.0) for _ in range(2))
    assert np.array_equal(a.axes.origin, b.axes.origin)
    assert np.array_equal(a.axes.direction, b.axes.direction)
    assert np.array_equal(a.kind, b.kind)
    assert np.array_equal(a.place, b.place)


def test_each_kind_gets_the_same_axes_and_each_zone_its_share():
    found = candidates([ZONE, OTHER], kinds=2, count=2000, max_tilt=15.0)
    first, second = (found.axes.take(np.flatnonzero(found.kind == k)) for k in (0, 1))
    assert np.array_equal(first.origin, second.origin)
    share = np.mean(found.zone == 0)
    assert share == pytest.approx(ZONE.area / (ZONE.area + OTHER.area), abs=0.1)
    places = [set(found.place[found.zone == zone]) for zone in (0, 1)]
    assert not places[0] & places[1]


def test_along_a_joint():
    """The fan is turned into the plane of the joint: its middle has no part along the normal."""
    found = candidates([ZONE], kinds=1, count=300, max_tilt=10.0, plane=np.array([0, 0, 1.0]))
    middle = found.axes.direction[::DIRECTIONS]
    assert np.abs(middle[:, 2]).max() < 1e-12
    assert np.abs(middle @ ZONE.plane.normal) == pytest.approx(0.866, abs=1e-3)
    flat = candidates([OTHER], kinds=1, count=300, max_tilt=10.0, plane=np.array([0, 0, 1.0]))
    assert np.abs(flat.axes.direction[::DIRECTIONS, 2]) == pytest.approx(1.0)


def test_few_are_still_some():
    assert len(candidates([ZONE], kinds=1, count=1, max_tilt=20.0).axes) >= 2 * DIRECTIONS


def bowl(x, y):
    """Level in the middle, 24 degrees off the level at x = 12."""
    return -np.tan(np.radians(24.0)) * x**2 / 24.0


def test_on_a_curved_surface_each_fan_opens_between_both_normals():
    """The slope of the bowl at x is x / 12 times that at 12; away from its ends, where the
    surface within reach lies to one side."""
    (zone,), _ = zones_from_patch(None, grid(bowl, 61, 60.0), most=1)
    found = candidates([zone], kinds=1, count=4000, max_tilt=10.0, thread=3.0)
    middle, x = found.axes.direction[::DIRECTIONS], found.axes.origin[::DIRECTIONS, 0]
    inner = np.abs(x) < 20.0
    slope = np.degrees(np.arctan(np.tan(np.radians(24.0)) * np.abs(x) / 12.0))
    off = np.degrees(np.arccos(np.abs(middle @ zone.plane.normal)))
    assert off[inner] == pytest.approx(slope[inner] / 2.0, abs=0.3)
    assert off[inner].max() > 15.0
    assert (np.sign(middle[::2, 0] * middle[::2, 2]) == np.sign(x[::2]))[np.abs(x[::2]) > 1].all()
    alone = candidates([zone], kinds=1, count=4000, max_tilt=10.0)
    assert np.abs(alone.axes.direction[::DIRECTIONS] @ zone.plane.normal) == pytest.approx(1.0)
