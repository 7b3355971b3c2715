"""Bearing under head and washer."""

import numpy as np
import pytest

from trajplan.errors import DegenerateError
from trajplan.mechanics import Range, bearing, find_bone_class, seat_limit

RING = np.array([np.pi * (16.0 - 2.25**2)])
SOFT = find_bone_class("cancellous light").cancellous.compression


def force(value):
    return Range(*(np.array([f * value]) for f in (0.5, 1.0, 2.0)))


def test_pressure_and_use():
    found = bearing(force(100.0), RING, seat_limit(RING, SOFT))
    assert found.pressure.estimate[0] == pytest.approx(100.0 / RING[0])
    assert found.use.estimate[0] == pytest.approx(found.pressure.estimate[0] / SOFT.estimate)
    least = (found.pressure.low / SOFT.estimate, found.pressure.estimate / SOFT.high)
    most = (found.pressure.high / SOFT.estimate, found.pressure.estimate / SOFT.low)
    assert found.use.low == pytest.approx(np.minimum(*least))  # one of the two, not both at once
    assert found.use.high == pytest.approx(np.maximum(*most))


def test_the_seat_gives_way_at_area_times_strength():
    """By hand: 34.4 mm² at 1 MPa is 34.4 N; at its limit the use is 1."""
    limit = seat_limit(RING, SOFT)
    assert limit.low[0] == pytest.approx(RING[0] * SOFT.low)
    assert limit.high[0] == pytest.approx(RING[0] * SOFT.high)
    found = bearing(limit, RING, limit)
    assert found.use.estimate[0] == pytest.approx(1.0)
    assert found.pressure.estimate[0] == pytest.approx(SOFT.estimate)


def test_nothing_bears_is_unknown():
    nothing = np.array([np.nan])
    found = bearing(force(100.0), nothing, seat_limit(nothing, SOFT))
    assert np.isnan(found.pressure.estimate).all()
    assert np.isnan(found.use.estimate).all()


def test_strength_unknown():
    found = bearing(force(100.0), RING, seat_limit(RING, None))
    assert np.isnan(found.use.estimate).all()


def test_negative_force():
    with pytest.raises(DegenerateError, match="negative"):
        bearing(force(-1.0), RING, seat_limit(RING, SOFT))
    with pytest.raises(DegenerateError, match="negative"):
        seat_limit(-RING, SOFT)
