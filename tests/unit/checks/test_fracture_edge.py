"""Rule: bone is left between the hole and the fracture line.

The plane x + z = -8 meets the slab's upper face at x = -8 and its lower face at x = 12.
"""

import pytest
from builders import in_slab, slab, words, zone_of

from trajplan.checks import Limits, fracture_edge

ZONE = zone_of(slab(), [0, 0, -8], [1, 0, 1])
LIMITS = Limits()


def at(*x, **options):
    return in_slab(x=x, zones=ZONE, **options)


def test_the_nearer_of_entry_and_exit_counts():
    """From the rim (radius 2.25): entry x + 8, exit 12 - x; limits 4.5 and 2.25."""
    x = (-3.0, 2.0, 5.25, 5.3, 7.5, 7.6, 90.0)
    ruling = fracture_edge(at(*x), LIMITS, (ZONE,))
    assert words(ruling) == ["caution", "pass", "pass", "caution", "caution", "fail", None]
    want = [5 - 2.25, 10 - 2.25, 4.5, 6.7 - 2.25, 2.25, 4.4 - 2.25]
    assert ruling.measured[:6] == pytest.approx(want, abs=1e-6)


def test_a_screw_that_does_not_come_out_has_no_exit_hole():
    ruling = fracture_edge(at(8.0, hold="unicortical"), LIMITS, (ZONE,))
    assert words(ruling) == ["pass"]
    assert ruling.measured == pytest.approx(16 - 2.25, abs=1e-6)


def test_the_hole_may_run_into_the_line():
    ruling = fracture_edge(at(-8.0), LIMITS, (ZONE,))
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(-2.25, abs=1e-6)
    (found,) = ruling.findings("a")
    assert found.measured == pytest.approx(-2.25, abs=1e-6)
    assert "reaches 2.2 mm past the fracture line" in found.why
    assert "Only 2.15 mm of bone" in fracture_edge(at(7.6), LIMITS, (ZONE,)).findings("a")[0].why


def test_the_nearest_line_of_any_zone_counts():
    other = zone_of(slab(), [6, 0, -10], [1, 0, 0])
    ruling = fracture_edge(at(2.0), LIMITS, (ZONE, other))
    assert ruling.measured == pytest.approx(4 - 2.25, abs=1e-6)


def test_no_screw():
    assert words(fracture_edge(at(), LIMITS, (ZONE,))) == []
