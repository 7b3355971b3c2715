"""Rule: the thread of a lag screw lies beyond the fracture, on its whole circumference."""

import numpy as np
import pytest
from builders import changed, in_slab, screws_in, shaft, slab, words, zone_of

from trajplan.checks import Limits, thread_across
from trajplan.trajectory import Technique

LIMITS = Limits()


def partial(fracture, **options):
    return in_slab(60.0, fracture, kind="HB6.5", **options)


def test_partial_thread_beyond_the_fracture():
    assert words(thread_across(partial(20.0), LIMITS)) == ["pass"]


def test_partial_thread_across_the_fracture():
    """Tip at 55.7; the shortest thread is 16, so it begins at 39.7, before 45."""
    ruling = thread_across(partial(45.0), LIMITS)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(55.6928 - 16 - 45, abs=1e-3)
    assert "bites both fragments" in ruling.findings(["screw 1"])[0].why


def test_the_whole_ring_counts_and_not_the_axis_alone():
    """Thread from 39.7: past the fracture on the axis (39.2), not on the far side (40.4)."""
    zone = zone_of(slab(60.0), [0, 0, -39.2], [np.sin(np.radians(20)), 0, np.cos(np.radians(20))])
    screws = partial(0.0, zones=zone)
    assert screws.thread_from[0] > screws.crossing.axis[0]
    assert words(thread_across(screws, LIMITS)) == ["fail"]


def test_at_the_limits():
    deep = partial(20.0, x=np.zeros(5))
    beyond = np.array([0.5, 0.499, 0.0, -0.001, np.nan])
    bite, near = deep.crossing.deep + beyond, np.fmax(-beyond, 0.0)
    ruling = thread_across(changed(deep, bite_from=bite, near_thread=near), LIMITS)
    assert words(ruling) == ["pass", "caution", "caution", "fail", "unknown"]


def test_a_gliding_hole_ends_where_the_last_line_has_passed():
    zone = zone_of(slab(), [0, 0, -8], [0.3, 0, 1])
    screws = in_slab(zones=zone)
    assert words(thread_across(screws, LIMITS)) == ["pass"]
    assert screws.crossing.deep == pytest.approx([8 + 2.25 * 0.3], abs=1e-6)
    assert screws.holes.gliding_to >= screws.crossing.deep  # rounded up, never short of it
    # A hole drilled to the axis alone leaves bone of the near fragment on one side of the ring.
    early = changed(screws, bite_from=screws.crossing.axis, near_thread=2.25 * 0.3)
    assert words(thread_across(early, LIMITS)) == ["fail"]


def test_before_the_fracture_in_the_canal_there_is_nothing_to_bite():
    """Near cortex 5, canal to 23, fracture at 20: what begins at 10 bites the far wall alone."""
    bone = shaft()
    zone = zone_of(bone, [6, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone)
    assert screws.crossing.axis == pytest.approx(20.0)
    short = changed(screws, bite_from=10.0, near_thread=0.0)
    ruling = thread_across(short, LIMITS)
    assert words(ruling) == ["pass"]
    assert "10.0 mm before the fracture" in ruling.findings(["screw 1"])[0].why
    partly = changed(short, technique=int(Technique.PARTIAL))
    assert words(thread_across(partly, LIMITS)) == ["caution"]
    bites = changed(short, near_thread=0.01)
    assert words(thread_across(bites, LIMITS)) == ["fail"]


def test_without_a_crossing_nothing_can_be_told():
    zone = zone_of(slab(), [15, 0, -5], [1, 0, 1])
    assert words(thread_across(in_slab(x=[0], zones=zone), LIMITS)) == ["unknown"]


def test_position_screws_and_misses_are_left_out():
    assert words(thread_across(partial(20.0, technique="position"), LIMITS)) == [None]
    assert words(thread_across(partial(20.0, x=[90]), LIMITS)) == [None]
    assert words(thread_across(partial(20.0, x=[]), LIMITS)) == []
