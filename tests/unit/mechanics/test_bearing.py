"""Bearing under head and washer."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError
from trajplan.mechanics import Range, bearing, find_bone_class, footprint

SOFT = find_bone_class("cancellous light").cancellous.compression


def force(value):
    return Range(*(np.array([f * value]) for f in (0.5, 1.0, 2.0)))


def test_ring_by_hand():
    assert footprint(8.0, 4.5) == pytest.approx(np.pi * (16.0 - 2.25**2))
    assert footprint(8.0, 4.5, 0.25) == pytest.approx(np.pi * (16.0 - 2.25**2) / 4)


def test_pressure_and_use():
    found = bearing(force(100.0), footprint([8.0], [4.5]), SOFT)
    assert found.pressure.estimate[0] == pytest.approx(100.0 / (np.pi * (16.0 - 2.25**2)))
    assert found.use.estimate[0] == pytest.approx(found.pressure.estimate[0] / SOFT.estimate)
    assert found.use.low[0] == pytest.approx(found.pressure.low[0] / SOFT.high)
    assert found.use.high[0] == pytest.approx(found.pressure.high[0] / SOFT.low)


def test_washer_is_due_where_the_head_sinks_in():
    area = footprint([8.0, 13.0], [4.5, 6.6])  # head alone, head on a washer
    limit = SOFT.estimate * area[0]
    found = bearing(Range(*(np.full(2, f * limit) for f in (0.5, 1.01, 2.0))), area, SOFT)
    assert found.washer_due.tolist() == [True, False]
    assert not (found.washer_due & found.washer_doubtful).any()
    assert found.washer_doubtful[1]


@pytest.mark.parametrize("share", [0.0, np.nan])
def test_nothing_bears_is_unknown(share):
    found = bearing(force(100.0), footprint([8.0], [4.5], [share]), SOFT)
    assert np.isnan(found.pressure.estimate).all()
    assert not found.washer_due.any()


def test_strength_unknown():
    found = bearing(force(100.0), footprint([8.0], [4.5]), None)
    assert np.isnan(found.use.estimate).all()


@pytest.mark.parametrize("args", [(4.5, 8.0), (8.0, 0.0), (8.0, 4.5, -0.1), (8.0, 4.5, 1.1)])
def test_impossible_footprint(args):
    with pytest.raises(DegenerateError):
        footprint(*args)


def test_negative_force():
    with pytest.raises(DegenerateError, match="negative"):
        bearing(force(-1.0), footprint([8.0], [4.5]), SOFT)
