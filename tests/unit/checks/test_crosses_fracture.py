"""Rule: the axis crosses the fracture inside the bone."""

import pytest
from builders import in_slab, slab, words, zone_of

from trajplan.checks import Limits, crosses_fracture


def test_crossing_depth():
    ruling = crosses_fracture(in_slab(fracture=8.0, x=[0, 90]), Limits())
    assert words(ruling) == ["pass", None]
    assert ruling.measured[0] == pytest.approx(8.0)


def test_a_plane_that_is_met_outside_the_bone():
    """The plane x + z = 10 lies above the slab at x < 10 and below it at x > 30."""
    zone = zone_of(slab(), [15, 0, -5], [1, 0, 1])
    ruling = crosses_fracture(in_slab(x=[0, 9, 15, 31], zones=zone), Limits())
    assert words(ruling) == ["fail", "fail", "pass", "fail"]
    assert ruling.findings("abcd")[0].measured is None


def test_an_axis_in_the_plane_of_the_fracture():
    zone = zone_of(slab(), [3, 0, -5], [1, 0, 0])
    assert words(crosses_fracture(in_slab(x=[0, 3], zones=zone), Limits())) == ["fail", "fail"]


def test_no_screw():
    assert words(crosses_fracture(in_slab(x=[]), Limits())) == []
