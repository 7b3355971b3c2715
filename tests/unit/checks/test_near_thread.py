"""Rule: no thread of a lag screw bites the near fragment."""

import numpy as np
import pytest
from builders import changed, in_slab, screws_in, shaft, slab, words, zone_of

from trajplan.checks import Limits, near_thread
from trajplan.trajectory import Within

LIMITS = Limits()


def test_thread_in_near_bone_is_measured():
    ruling = near_thread(in_slab(60.0, 45.0, kind="HB6.5"), LIMITS)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(45 - (55.6928 - 16), abs=1e-3)


def test_a_gliding_hole_leaves_none():
    for angle in (0, 20):
        ruling = near_thread(in_slab(angle=angle), LIMITS)
        assert words(ruling) == ["pass"]
        assert ruling.measured == pytest.approx(0.0, abs=1e-9)


def test_thread_in_the_canal_bites_nothing():
    """Near cortex 5, canal to 23, fracture at 20: thread from 10 on meets no near bone."""
    bone = shaft()
    zone = zone_of(bone, [6, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone)
    short = changed(screws, bite_from=10.0)
    assert short.crossing.axis == pytest.approx(20.0)
    assert near_thread(_again(short), LIMITS).measured == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("within", "bites"),
    [(Within.MARROW, 2.0), (Within.CANCELLOUS, 10.0), (Within.UNTOLD, 10.0)],
)
def test_thread_in_what_is_taken_for_marrow_bites_nothing(within, bites):
    """A solid slab of 20 mm, its cortex assumed at 4: inside it from 4 to 16, fracture at 12."""
    screws = in_slab(20.0, 12.0, cortex=4.0)
    near = near_thread(_again(changed(screws, bite_from=2.0), within), LIMITS)
    assert near.measured == pytest.approx(bites, abs=1e-9)


def _again(screws, within=Within.UNTOLD):
    """Work the near thread out anew for a first bite that was set by hand."""
    from trajplan.trajectory._trajectory import _marrow, _near_thread

    marrow = _marrow(screws.corridors, screws.walls, np.full(len(screws), int(within)))
    near = _near_thread(screws.corridors, screws.crossing, marrow, screws.bite_from, screws.tip)
    return changed(screws, near_thread=near)


def test_position_thread_bites_both_and_is_not_judged():
    screws = in_slab(technique="position")
    assert screws.near_thread == pytest.approx(8.0 - screws.seats.seat)
    assert words(near_thread(screws, LIMITS)) == [None]


def test_at_the_limit():
    screws = changed(in_slab(x=np.zeros(4)), near_thread=[0.0, 0.1, 0.101, np.nan])
    assert words(near_thread(screws, LIMITS)) == ["pass", "pass", "fail", "unknown"]


def test_without_a_crossing_there_is_no_near_fragment():
    zone = zone_of(slab(), [15, 0, -5], [1, 0, 1])
    assert words(near_thread(in_slab(x=[0, 90], zones=zone), LIMITS)) == ["unknown", None]
    assert words(near_thread(in_slab(x=[]), LIMITS)) == []


def test_a_thread_whose_place_is_not_known_is_no_pass():
    screws = _again(changed(in_slab(60.0, 20.0, kind="HB6.5"), tip=np.nan, bite_from=np.nan))
    assert words(near_thread(screws, LIMITS)) == ["unknown"]
