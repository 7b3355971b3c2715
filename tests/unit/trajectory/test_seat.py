"""The seat: where head or washer comes to rest."""

import numpy as np
import pytest
from builders import bone_of, catalogue, in_slab, level, screw, screws_in, slab, zone_of
from specimens import box, cylinder, joined

from trajplan.trajectory._seat import DISC_SHARES


def test_a_ball_that_misses_the_rim_rests_on_its_lowest_point():
    """A hole of radius h takes a ball of radius R > h; with h = 0 it would lie on the flat."""
    for radius in (4.0, 6.0, 40.0):
        screws = in_slab(kind=screw(head_radius=radius))
        want = radius - np.sqrt(radius**2 - 2.25**2)
        assert screws.seats.seat == pytest.approx(want, abs=1e-9)


def test_a_step_beside_the_hole_holds_the_head_up():
    """A ledge of 2 mm from x = 3 on meets the head (radius 4) before the rim does."""
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), box((3, -40, -1), (40, 40, 2))))
    screws = screws_in(bone, [[0, 0, 30]], [[0, 0, -1]], zones=level(slab(), 8.0))
    at_step = 2.25 + (4 - 2.25) * np.array(DISC_SHARES)
    rise = 4 - np.sqrt(16 - at_step[at_step >= 3] ** 2)
    assert screws.seats.seat == pytest.approx(-2 + rise.min(), abs=1e-9)
    assert screws.gauge == pytest.approx(20 - screws.seats.seat)
    assert screws.seats.rim_contact[0] < 0.5


def test_a_washer_on_a_round_bar_rests_on_its_middle_line():
    """Bar of radius 10: the washer's hole of radius 3.3 straddles the top, which bulges."""
    bone = bone_of(cylinder(10.0, 100.0, sides=256))
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    washer = catalogue().washers["13.0"]
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone, washers=(washer,))
    assert screws.seats.seat == pytest.approx(-washer.thickness, abs=0.02)


def test_nothing_under_the_head():
    """A needle in the middle of the hole: no bone is left to carry the head."""
    bone = bone_of(cylinder(0.5, 60.0, 16))
    zone = zone_of(bone, [0, 0, 30], [0, 0, 1])
    screws = screws_in(bone, [[0, 0, 90]], [[0, 0, -1]], zones=zone)
    for values in (screws.seats.seat, screws.length, screws.tip, screws.gauge, screws.purchase):
        assert np.isnan(values).all()
    assert np.isnan(screws.seats.rim_contact).all()


def test_the_thread_hole_stands_in_where_no_drill_is_named():
    """HA4.0 has no drill: its core, 2.9 (from memory), is taken for the rim."""
    screws = in_slab(kind="HA4.0", technique="position")
    assert screws.seats.seat == pytest.approx(3.0 - np.sqrt(9.0 - 1.45**2), abs=1e-9)
