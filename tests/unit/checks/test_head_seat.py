"""Rule: the head bears on enough of a circle."""

import numpy as np
import pytest
from builders import catalogue, changed, in_slab, screws_in, shaft, slab, words, zone_of

from trajplan.checks import Limits, head_seat

LIMITS = Limits()


def test_square_on_a_flat():
    ruling = head_seat(in_slab(), LIMITS)
    assert words(ruling) == ["pass"]
    assert ruling.measured == pytest.approx(100.0)


def test_aslant_in_soft_bone_where_no_countersink_is_cut():
    """At 25 degrees the hole's rim rises 1.05 on one side: only part of the ball touches."""
    screws = in_slab(60.0, 20.0, kind="HB6.5", angle=25)
    assert screws.seats.countersink == pytest.approx(0.0)
    ruling = head_seat(screws, LIMITS)
    assert words(ruling) == ["note"]
    assert ruling.measured < 50


def test_a_countersink_lets_the_rim_bear_as_far_as_it_may_go():
    """At most half the near cortex, which is known here: 6 along the normal."""
    bare = in_slab(angle=15)
    sunk = in_slab(angle=15, cortex=6.0)
    assert bare.seats.countersink == pytest.approx(0.0)
    assert 0 < sunk.seats.countersink[0] <= 3.0 / np.cos(np.radians(15)) + 1e-6
    assert sunk.seats.rim_contact[0] > bare.seats.rim_contact[0]
    assert sunk.seats.seat == pytest.approx(bare.seats.seat + sunk.seats.countersink)


def test_an_axis_in_bone_all_the_way_has_a_cortex_to_countersink_beside_a_canal_alone():
    """Beside the canal of a shaft all is wall; past its end, in 5 mm of bone, nobody knows."""
    bone = shaft()
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    start, direction = [[-60, 0, 28], [-60, 0, 50]], [[0.9, 0, 0.435]] * 2
    through_wall = screws_in(bone, start, direction, zones=zone)
    assert (through_wall.walls.near < through_wall.corridors.exit).all()
    assert (through_wall.seats.countersink > 0).all()
    beside = screws_in(bone, [[-60, 11.0, 50]], [[0.9, 0, 0.435]], zones=zone)
    assert beside.walls.near == pytest.approx(beside.corridors.exit)
    assert 0.0 < beside.seats.countersink[0] <= beside.crossing.shallow[0] / 2.0
    past = screws_in(bone, [[-60, 0.0, 97.5]], [[1.0, 0, 0]], zones=zone)
    assert np.isnan(past.walls.near).all()  # no canal shows here, and no cortex is assumed
    assert past.seats.countersink == pytest.approx(0.0)


def test_a_washer_takes_no_countersink():
    washers = (catalogue().washers["13.0"],)
    screws = in_slab(angle=15, cortex=6.0, washers=washers)
    assert screws.washered.all()
    assert screws.seats.countersink == pytest.approx(0.0)
    assert words(head_seat(in_slab(washers=washers), LIMITS)) == ["pass"]


def test_at_the_limit():
    screws = changed(in_slab(x=np.zeros(3)), "seats", rim_contact=[0.5, 0.499, np.nan])
    assert words(head_seat(screws, LIMITS)) == ["pass", "note", "unknown"]


def test_misses():
    assert words(head_seat(in_slab(x=[90]), LIMITS)) == [None]
    zones = zone_of(slab(), [0, 0, -8], [0, 0, 1])
    assert words(head_seat(in_slab(x=[], zones=zones), LIMITS)) == []
