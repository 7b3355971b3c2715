"""Stocked lengths and partial threads off the tray."""

import numpy as np
import pytest
from builders import bone_of, in_slab, screw, screws_in, zone_of
from specimens import cylinder

from trajplan.trajectory import Settings, dimensions, stocked_below
from trajplan.trajectory._dimensions import stocked_at_least
from trajplan.trajectory._holes import glide_depth
from trajplan.trajectory._lengths import blind_choice, partial_threads, through_length

SHORT = screw(lengths=(10.0, 12.0, 20.0))
LONG = screw("HB6.5", lengths=(30.0, 35.0))
PARTIAL = screw("HB6.5")


def dims(*kinds):
    return dimensions([SHORT, LONG], np.array(kinds, dtype=np.int64))


def test_the_shortest_that_reaches():
    need = np.array([3.0, 10.0, 10.1, 12.0 + 1e-9, 25.0, np.nan])
    assert stocked_at_least(dims(0, 0, 0, 0, 0, 0), need) == pytest.approx(
        [10, 10, 12, 12, 20, np.nan], nan_ok=True
    )


def test_the_next_shorter():
    length = np.array([10.0, 12.0, 20.0, 25.0, np.nan])
    assert stocked_below(dims(0, 0, 0, 0, 0), length) == pytest.approx(
        [np.nan, 10, 12, 20, np.nan], nan_ok=True
    )


def test_each_axis_looks_at_its_own_tray():
    assert stocked_at_least(dims(1, 0, 1), np.array([11.0, 11.0, 31.0])).tolist() == [30, 12, 35]
    assert stocked_at_least(dims(), np.empty(0)).shape == (0,)


def test_through_the_far_cortex_the_shorter_where_it_will_do():
    """Steps of 2 mm: 2 to 3 mm proud stays, 3 to 4 mm proud becomes 1 to 2. Steps of 5 stay."""
    fine, coarse = screw(lengths=(26.0, 28.0, 30.0)), screw(lengths=(20.0, 25.0, 30.0))
    gauge = np.array([24.0, 25.0, 25.5, 25.9, 26.0, np.nan])
    kinds = dimensions([fine, coarse], np.zeros(6, dtype=np.int64))
    expected = [26, 28, 28, 28, 28, np.nan]  # 2.0, 3.0, 2.5, 2.1, 2.0 proud
    assert through_length(kinds, gauge, Settings()) == pytest.approx(expected, nan_ok=True)
    near = np.array([24.1, 24.9, 25.0])  # 28 would stand out 3.9, 3.1 and 3.0
    kinds = dimensions([fine, coarse], np.zeros(3, dtype=np.int64))
    assert through_length(kinds, near, Settings()).tolist() == [26, 26, 28]
    kinds = dimensions([fine, coarse], np.ones(3, dtype=np.int64))
    assert through_length(kinds, np.array([24.1, 23.9, 26.0]), Settings()).tolist() == [30, 25, 30]


def blind(begin, room, ahead=np.nan, *, number=1, **settings):
    begin, room, ahead = np.broadcast_arrays(
        *(np.atleast_1d(a) * 1.0 for a in (begin, room, ahead))
    )
    kinds = dimensions([SHORT, PARTIAL], np.full(len(begin), number))
    return blind_choice(kinds, np.zeros(len(begin)), begin, room, ahead, Settings(**settings))


def test_towards_a_joint_the_longest_that_keeps_clear_with_its_shortest_thread():
    """The tray steps by 5 mm; a reach of 58.9 takes 55, and one too short for the thread none."""
    length, thread = blind(12.0, 80.0, [58.9, 60.0, 29.9, np.nan])
    assert length.tolist() == [55, 60, 30, 30]
    assert thread.tolist() == [16, 16, 16, 16]
    assert blind(12.0, 41.0, 60.0)[0].tolist() == [40]  # the far wall still counts


def test_a_blind_screw_is_the_shortest_that_holds():
    """Fracture at 12: a 16 mm thread 2 mm past it ends at 30, and 5 turns are 13.75 mm."""
    length, thread = blind([12.0, 12.1, 40.0], [80.0, 80.0, 80.0])
    assert length.tolist() == [30, 35, 60]
    assert thread.tolist() == [16, 16, 16]


def test_little_room_takes_the_margin_that_is_left():
    """Room for 30 alone, so the thread begins 1 mm past the fracture, not 2."""
    length, thread = blind([13.0], [31.0])
    assert (length.tolist(), thread.tolist()) == ([30], [16])


def test_no_length_holds_or_clears():
    """The thread that ends nearest to clear; nothing that fits: the shortest there is."""
    length, thread = blind([20.0, 20.0, np.nan, 20.0], [36.0, 10.0, 41.0, np.nan])
    assert length == pytest.approx([35, 30, 40, np.nan], nan_ok=True)
    assert thread == pytest.approx([16, 16, 16, np.nan], nan_ok=True)


def test_a_full_thread_in_a_blind_hole():
    """HA4.5: 5 turns of 1.75 are 8.75 mm past a gliding hole that ends at 3."""
    length, thread = blind([3.0, 3.0], [50.0, 11.0], number=0)
    assert length.tolist() == [12, 10]
    assert np.isnan(thread).all()


def test_a_length_that_comes_with_one_thread_only():
    """The thread nearest to the share: 30 with 10, 40 with 14, 50 with 16 (HB4.0, from memory)."""
    tray = dict(screw("HB4.0").tray)
    assert {length: tray[length] for length in (30.0, 40.0, 50.0)} == {30: 10, 40: 14, 50: 16}


def test_partial_thread_of_a_settled_length():
    kinds = dimensions([SHORT, PARTIAL], np.array([1, 1, 1, 1, 0]))
    length = np.array([60.0, 60.0, 60.0, 30.0, 20.0])
    beyond = np.array([33.0, 32.2, 10.0, 40.0, 15.0])
    assert partial_threads(kinds, length, beyond, Settings()) == pytest.approx(
        [32, 16, 16, 16, np.nan], nan_ok=True
    )


def test_the_gauge_hooks_in_the_drilled_hole():
    """Flat wall 30 degrees off: the rim of the 3.2 mm hole is 1.6 tan 30 past the axis."""
    screws = in_slab(angle=30, ring=64)
    past = screws.gauge + screws.seats.seat - screws.corridors.exit
    assert past == pytest.approx(1.6 * np.tan(np.radians(30)), abs=2e-3)


@pytest.mark.parametrize("ring", [15, 16])
def test_the_gauge_in_a_round_wall(ring):
    """A screw through the middle of a rod: off the axis the far wall comes nearer, not deeper."""
    rod = bone_of(cylinder(12.0, 80.0, sides=512, start=-40.0))
    screws = screws_in(
        rod,
        [[-40.0, 3.0, 0.0]],
        [[1.0, 0.0, 0.0]],
        zones=zone_of(rod, [0, 0, 0], [1, 0, 0]),
        ring=ring,
    )
    near = np.sqrt(12.0**2 - (3.0 - 1.6) ** 2)  # the rim of the hole nearest to the middle
    reading = screws.gauge + screws.seats.seat
    assert reading == pytest.approx(near + np.sqrt(12.0**2 - 9.0), abs=0.02)


def test_gliding_holes_are_never_told_short_of_the_fracture():
    deep = np.array([8.0, 8.01, 8.49, 8.5, 8.51, np.nan])
    assert glide_depth(deep) == pytest.approx([8, 8.5, 8.5, 8.5, 9.0, np.nan], nan_ok=True)


def test_a_length_counted_from_the_top_of_the_head():
    """The part above the seat (head height, from memory: 4 mm) does not reach into the bone."""
    from_seat, from_top = in_slab(), in_slab(kind=screw(length_from="top"))
    assert from_top.tip == pytest.approx(from_top.seats.seat + from_top.length - 4.0)
    assert from_top.length == pytest.approx(from_seat.length + 4.0)
    assert from_top.proud == pytest.approx(from_seat.proud)
