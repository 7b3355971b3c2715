"""Contact of one rigid fragment on a surface of several planes, and on a curved one.

Closed forms by equilibrium (statics of a rigid body; common practice): on two slopes of a roof
``p = F / (A cos a)``, on a half tube pressed square to its opening ``p = 2F / (pi R L) cos t``.
"""

import numpy as np
import pytest
from roofs import LENGTH, strip, zones_of

from trajplan.mechanics import (
    Load,
    clamp_load,
    contact_of,
    friction_limit,
    opening_load,
    press_surface,
    surface_regions,
)

F = 1000.0


def roof(angle, size=1.0):
    (region,) = surface_regions(zones_of(strip([angle, -angle])), size)
    return region


def down(region, force=F, at=None):
    """A force square to the roof's opening, to the side that its normals face."""
    side = np.sign(region.normal[2])
    where = region.centre if at is None else np.asarray(at)
    return Load(np.array([0.0, 0.0, side * force]), np.zeros(3), where)


@pytest.mark.parametrize("angle", [25.0, 45.0, 60.0])
def test_a_screw_over_the_ridge_presses_both_slopes_alike(angle):
    """Neither slope need hold a screw of its own; without friction and with it."""
    region = roof(angle)
    even = F / (region.area * np.cos(np.radians(angle)))
    for stuck in (True, False):
        found = contact_of(region.points, region.normals, region.areas, down(region), stuck=stuck)
        assert found.converged
        assert found.share == pytest.approx(1.0)
        assert found.pressure == pytest.approx(np.full(len(region.areas), even), rel=1e-6)
    pressed = press_surface(region, down(region), 0.3)
    assert pressed.limit == np.inf
    assert not pressed.bends


def test_two_screws_each_square_to_its_slope_press_evenly():
    """Forces F on either slope along its normal: p = F / (half the area), no shear at all."""
    region = roof(35.0)
    middles = np.array(
        [
            region.areas[own] @ region.points[own] / region.areas[own].sum()
            for own in (region.of_zone(0), region.of_zone(1))
        ]
    )
    load = clamp_load([F, F], region.facing, middles, region.facing)
    pressed = press_surface(region, load, 0.3)
    assert pressed.contact.pressure == pytest.approx(
        np.full(len(region.areas), 2 * F / region.area), rel=1e-6
    )
    assert pressed.limit == np.inf


def test_a_screw_the_other_way_presses_just_the_same():
    """Its head on the far side: its force on the near fragment is turned over."""
    region = roof(35.0)
    middle = region.centre
    there, back = (
        clamp_load([F], [way * region.normal], [middle], [region.normal]) for way in (1.0, -1.0)
    )
    assert there.force == pytest.approx(back.force)


def test_slopes_stop_what_friction_does_not_bear():
    """Force V down and H across, slopes at 45 degrees: the slopes bear (V ± H) / √2 each.

    H/V = 0.5 is more than friction 0.3 bears; along the ridge nothing but friction does, and
    its limit is the sum of both normal forces, √2 V, over the pull along the ridge.
    """
    region = roof(45.0)
    side = np.sign(region.normal[2])
    ridge = region.points[np.argmax(region.points[:, 2] * side)]
    at = np.array([0.0, 0.0, ridge[2]])
    across, along = 500.0, 100.0
    pressed = press_surface(region, Load(np.array([across, along, side * F]), np.zeros(3), at), 0.3)
    assert pressed.bends
    push = np.array(
        [
            pressed.contact.pressure[own] @ region.areas[own]
            for own in (region.of_zone(0), region.of_zone(1))
        ]
    )
    assert sorted(push) == pytest.approx([(F - across) / np.sqrt(2), (F + across) / np.sqrt(2)])
    assert pressed.contact.carried.force == pytest.approx([0, along, 0], abs=1e-6)
    # along the ridge alone; the twist of the pull about the slopes is theirs to bear
    assert pressed.limit == pytest.approx(np.sqrt(2) * F / along, rel=1e-6)


def test_what_friction_bears_needs_no_slopes():
    region = roof(45.0)
    load = down(region)
    pushed = Load(load.force + np.array([100.0, 0.0, 0.0]), load.moment, load.point)
    pressed = press_surface(region, pushed, 0.3)
    assert not pressed.bends
    assert 0.3 * pressed.limit >= 1.0


def test_a_slide_that_no_slope_stops_is_said():
    """A plane in two facets of 3 degrees: a pull across slides, bends or not."""
    (region,) = surface_regions(zones_of(strip([3.0, -3.0])), 1.0)
    load = down(region)
    tilt = np.radians(30.0)
    pulled = Load(
        load.force * np.cos(tilt) + np.array([F * np.sin(tilt), 0, 0]), load.moment, load.point
    )
    pressed = press_surface(region, pulled, 0.3)
    assert not pressed.bends
    assert pressed.contact.converged
    # a plane's limit is cot 30; two facets of 3 degrees change it by less than their cosine
    assert pressed.limit == pytest.approx(1 / np.tan(tilt), rel=0.01)


RADIUS, HALF = 15.0, 20.0


def half_tube(count=181, rows=41):
    """Points of a half tube about y, its normals outwards."""
    turn, y = np.meshgrid(
        (np.arange(count) + 0.5) / count * np.pi - np.pi / 2,
        ((np.arange(rows) + 0.5) / rows - 0.5) * 2 * HALF,
    )
    turn, y = turn.ravel(), y.ravel()
    normals = np.stack([np.sin(turn), np.zeros_like(turn), np.cos(turn)], axis=1)
    areas = np.full(len(turn), np.pi * RADIUS * 2 * HALF / len(turn))
    return RADIUS * normals + y[:, None] * [0, 1, 0], normals, areas, turn


@pytest.mark.parametrize("stuck", [True, False])
def test_half_tube(stuck):
    points, normals, areas, turn = half_tube()
    load = Load(np.array([0, 0, F]), np.zeros(3), np.zeros(3))
    found = contact_of(points, normals, areas, load, stuck=stuck)
    top = 2 * F / (np.pi * RADIUS * 2 * HALF)
    assert found.converged
    assert found.pressure == pytest.approx(top * np.cos(turn), rel=1e-3, abs=1e-3 * top)
    # it wedges: the normal forces add up to 4/pi of the screw's
    assert found.pressure @ areas == pytest.approx(4 * F / np.pi, rel=1e-3)


def test_half_tube_slides_along_its_axis_and_round_it_and_no_other_way():
    points, normals, areas, _ = half_tube()
    pull, twist = 200.0, 90.0  # so small a twist hardly moves the pressures round the tube
    for force, moment, limit in (
        ([0, pull, F], [0, 0, 0], 4 * F / np.pi / pull),
        ([0, 0, F], [0, twist, 0], 4 * F / np.pi * RADIUS / twist),
    ):
        load = Load(np.array(force, dtype=float), np.array(moment, dtype=float), np.zeros(3))
        found = contact_of(points, normals, areas, load)
        assert found.converged
        assert found.sliding.shape == (6, 2)
        for way in found.sliding.T:  # neither motion closes or opens any point
            move = way[:3] + np.cross(way[3:], points - found.carried.point)
            assert np.einsum("ij,ij->i", move, normals) == pytest.approx(0.0, abs=1e-9)
        pressing = found.pressure * areas
        answer = friction_limit(points, pressing, normals, found.carried, found.sliding)
        assert answer == pytest.approx(limit, rel=2e-3)


def test_a_roof_opens_at_the_pull_that_outweighs_the_squeeze():
    region = roof(30.0)
    found = opening_load(region, down(region), down(region, -500.0))
    assert found.gap == pytest.approx(2.0, rel=1e-3)


def test_strip_beyond_its_kern_lifts_at_the_far_edge():
    """One plane in two facets of the same slope: p = 2F / (3 l (b/2 - e)), handbook no-tension."""
    (region,) = surface_regions(zones_of(strip([0.0, 0.0])), 0.4)
    width, e = 20.0, 6.0
    found = press_surface(region, down(region, at=[e, 0.0, 50.0]), 0.3).contact
    assert found.share == pytest.approx(3 * (width / 2 - e) / width, abs=0.02)
    assert found.peak == pytest.approx(2 * F / (3 * LENGTH * (width / 2 - e)), rel=0.03)
    assert region.points[found.gap.argmax(), 0] < -0.9 * width / 2
