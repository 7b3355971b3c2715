"""Rule: bone of the near fragment lies between head and fracture."""

import numpy as np
import pytest
from builders import changed, in_slab, slab, words, zone_of

from trajplan.checks import Limits, head_support

LIMITS = Limits()


def test_from_the_seat_to_the_shallow_side_of_the_fracture():
    zone = zone_of(slab(), [0, 0, -8], [0.3, 0, 1])
    ruling = head_support(in_slab(zones=zone), LIMITS)
    seat = 4 - np.sqrt(16 - 2.25**2)  # a ball on the rim of a hole; head radius from memory
    assert ruling.measured == pytest.approx(8 - 2.25 * 0.3 - seat, abs=1e-6)


def test_at_the_limits():
    screws = in_slab(x=np.zeros(5))
    wanted = LIMITS.support_wanted * 4.5
    support = np.array([wanted, wanted - 0.01, LIMITS.support_least, LIMITS.support_least - 0.01])
    seat = np.append(screws.crossing.shallow[:4] - support, np.nan)
    ruling = head_support(changed(screws, "seats", seat=seat), LIMITS)
    assert words(ruling) == ["pass", "caution", "caution", "fail", "unknown"]


def test_a_countersink_takes_support_away():
    """Half the near cortex may be countersunk: the seat goes down and the support with it."""
    bare, sunk = in_slab(angle=15), in_slab(angle=15, cortex=6.0)
    lost = head_support(bare, LIMITS).measured - head_support(sunk, LIMITS).measured
    assert lost == pytest.approx(sunk.seats.countersink)
    assert lost > 0


def test_no_crossing_and_misses():
    zone = zone_of(slab(), [15, 0, -5], [1, 0, 1])
    assert words(head_support(in_slab(x=[0, 90], zones=zone), LIMITS)) == ["unknown", None]
    assert words(head_support(in_slab(x=[]), LIMITS)) == []


def test_what_is_wanted_bears_what_the_screw_pulls():
    """Shear of a ring under the head at 51.6 MPa (Turner et al. 2001, abstract, read) against the
    greatest lag-screw force in print, 3000 N for a 4.5 mm screw (facts of the trade)."""
    ring = np.pi * 8.0 * LIMITS.support_wanted * 4.5
    assert 51.6 * ring == pytest.approx(3000.0, rel=0.05)
