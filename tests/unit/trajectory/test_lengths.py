"""Stocked lengths and partial threads off the tray."""

import numpy as np
import pytest
from builders import in_slab, screw

from trajplan.trajectory import dimensions
from trajplan.trajectory._dimensions import stocked_at_least, stocked_at_most, thread_at_most

SHORT = screw(lengths=(10.0, 12.0, 20.0))
LONG = screw("HB6.5", lengths=(30.0, 35.0), thread_lengths=(16.0, 32.0))


def dims(*kinds):
    return dimensions([SHORT, LONG], np.array(kinds, dtype=np.int64))


def test_the_shortest_that_reaches():
    need = np.array([3.0, 10.0, 10.1, 12.0 + 1e-9, 25.0, np.nan])
    assert stocked_at_least(dims(0, 0, 0, 0, 0, 0), need) == pytest.approx(
        [10, 10, 12, 12, 20, np.nan], nan_ok=True
    )


def test_the_longest_that_fits():
    room = np.array([3.0, 10.0, 11.9, 12.0 - 1e-9, 25.0, np.nan])
    assert stocked_at_most(dims(0, 0, 0, 0, 0, 0), room) == pytest.approx(
        [10, 10, 10, 12, 20, np.nan], nan_ok=True
    )


def test_each_axis_looks_at_its_own_tray():
    assert stocked_at_least(dims(1, 0, 1), np.array([11.0, 11.0, 31.0])).tolist() == [30, 12, 35]
    room = np.array([40.0, 40.0])
    assert thread_at_most(dims(1, 0), room) == pytest.approx([32, np.nan], nan_ok=True)
    assert stocked_at_least(dims(), np.empty(0)).shape == (0,)


def test_a_length_counted_from_the_top_of_the_head():
    """The part above the seat (head height, from memory: 4 mm) does not reach into the bone."""
    from_seat, from_top = in_slab(), in_slab(kind=screw(length_from="top"))
    assert from_top.tip == pytest.approx(from_top.seats.seat + from_top.length - 4.0)
    assert from_top.length == pytest.approx(from_seat.length + 4.0)
    assert from_top.proud == pytest.approx(from_seat.proud)
