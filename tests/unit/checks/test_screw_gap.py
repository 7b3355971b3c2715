"""Rule: screws do not meet, heads included (HA4.5: radius 2.25, head 4.0)."""

from dataclasses import replace

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, screws_in, words, zone_of
from specimens import cube

from trajplan.checks import Limits, pairs_of, screw_gap

LIMITS = Limits()
FIRST, SECOND = np.array([0]), np.array([1])


def gap(screws, limits=LIMITS):
    return screw_gap(pairs_of(screws, FIRST, SECOND), limits)


def test_heads_meet_first_where_screws_are_parallel():
    for apart, word in ((9.0, "pass"), (8.99, "fail"), (7.0, "fail")):
        ruling = gap(in_slab(x=[0, apart]))
        assert words(ruling) == [word]
        assert ruling.measured == pytest.approx(apart - 8.0)


def in_cube(start, direction):
    bone = bone_of(cube(60.0))
    return screws_in(bone, start, direction, zones=zone_of(bone, [0, 0, 0], [0, 0, 1]))


def test_shafts_that_cross_inside_the_bone():
    """One along z, one along x at a distance of y: the gap is y less two radii."""
    for y, word in ((5.5, "pass"), (5.4, "fail"), (0.0, "fail")):
        ruling = gap(in_cube([[0, 0, 50], [-50, y, 0]], [[0, 0, -1], [1, 0, 0]]))
        assert words(ruling) == [word]
        assert ruling.measured == pytest.approx(y - 4.5)


def test_the_tip_of_one_meets_the_head_of_another():
    """From opposite faces, 6 mm apart: tips stand out beside heads, 6 - 2.25 - 4 apart."""
    ruling = gap(in_cube([[0, 0, 50], [6, 0, -50]], [[0, 0, -1], [0, 0, 1]]))
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(-0.25)


def test_the_limit_may_be_set():
    assert words(gap(in_slab(x=[0, 8.5]), Limits(screw_gap=0.5))) == ["pass"]


def test_a_screw_whose_place_is_not_known():
    screws = changed(in_slab(x=[0, 20]), tip=[np.nan, 20.0])
    assert words(gap(screws)) == ["unknown"]


def test_pairs_with_a_miss_are_left_out_and_rows_are_kept():
    screws = in_slab(x=[0, 90, 20])
    ruling = screw_gap(pairs_of(screws, np.array([0, 0, 1]), np.array([1, 2, 2])), LIMITS)
    assert words(ruling) == [None, "pass", None]
    nothing = np.array([], dtype=np.int64)
    assert words(screw_gap(pairs_of(screws, nothing, nothing), LIMITS)) == []


def test_order_does_not_matter():
    screws = in_slab(x=[0, 6])
    screws = replace(screws, tip=screws.tip + np.array([0.0, 3.0]))
    assert gap(screws).measured == screw_gap(pairs_of(screws, SECOND, FIRST), LIMITS).measured
