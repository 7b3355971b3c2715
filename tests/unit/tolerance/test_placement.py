"""Placement error against closed forms: a wall beside the screw, a tube round it."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from builders import bone_of, changed, in_slab, level, obstacle, screws_in, slab
from shapely import Polygon
from specimens import cylinder

from trajplan.checks import Limits, Surroundings
from trajplan.tolerance import FAILURES, Hands, Scatter, forgiving, place, scattered, turned, wilson
from trajplan.trajectory import Axes, Settings

RADIUS = 4.5 / 2.0
STILL = {"direction": 0.0, "depth": 0.0}


def wall(x):
    """An upright wall beside the screw, well below its head."""
    corners = [[x, -60, -18], [x, 60, -18], [x, 60, -8], [x, -60, -8]]
    return np.array(corners, dtype=float), np.array([[0, 1, 2], [0, 2, 3]])


def hands(obstacles=(), x=(0.0,), limits=None):
    screws = in_slab(20.0, 8.0, x=x)
    bone = slab(20.0)
    around = Surroundings(bone=bone, zones=(level(bone, 8.0),), obstacles=obstacles, approach=None)
    return Hands(screws, around, limits or Limits(), Settings(), ())


def chance(chances, subject, rule):
    at = chances.subjects.index(subject), chances.rules.index(rule)
    return chances.chance[at], chances.low[at], chances.high[at]


def test_wall_beside_the_screw_is_met_as_often_as_the_normal_tail_says():
    # Shift across the axis only: the gap is 6 - radius - shift, short of 2 where the shift
    # passes 1.75; source: the normal distribution.
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),))
    found = place(near, ("S1",), Scatter(entry=1.5, draws=4000, seed=3, **STILL))
    tail = 0.5 * math.erfc((6.0 - RADIUS - 2.0) / 1.5 / math.sqrt(2.0))
    share, low, high = chance(found, "S1", "avoid_clearance")
    assert low <= tail <= high
    assert share == pytest.approx(tail, abs=0.02)


def test_tube_round_the_screw_is_met_as_often_as_the_rayleigh_tail_says():
    # Two equal normal shifts: their length is Rayleigh, tail exp(-x^2 / 2 s^2).
    vertices, faces = cylinder(7.0, 10.0, sides=256, start=-18.0)
    side = np.ptp(vertices[faces][:, :, 2], axis=1) > 0.0
    tube = vertices, faces[side]
    near = hands((obstacle(tube, role="avoid", clearance=2.0),))
    found = place(near, ("S1",), Scatter(entry=1.5, draws=4000, seed=5, **STILL))
    tail = math.exp(-((7.0 - RADIUS - 2.0) ** 2) / (2.0 * 1.5**2))
    share, low, high = chance(found, "S1", "avoid_clearance")
    assert low - 0.005 <= tail <= high + 0.005  # the tube has flats
    assert share == pytest.approx(tail, abs=0.02)


def beside_the_guide(*x):
    """Upright walls beside the drill guide, high above the bone: no screw comes near them."""
    return tuple(
        obstacle(
            (np.array([[at, -60, 20], [at, 60, 20], [at, 60, 90], [at, -60, 90.0]]), wall(at)[1]),
            role="avoid",
            clearance=1.0,
        )
        for at in x
    )


def turn_past(offset, arm):
    """Chance that an arm turned by normal errors of 3 degrees reaches ``offset`` mm aside."""
    return 0.5 * math.erfc(math.asin(offset / arm) / math.radians(3.0) / math.sqrt(2.0))


TURNING = {"entry": 0.0, "direction": 3.0, "depth": 0.0, "draws": 20000}


@pytest.mark.parametrize(("x", "sides"), [((8.0,), 1), ((-8.0, 8.0), 2), ((8.0, 90.0), 1)])
def test_guide_meets_what_stands_beside_it_as_often_as_the_normal_tail_says(x, sides):
    # The axis turns about the entry. The guide, 60 mm long and 8 wide, ends in a half sphere
    # about a point 56 mm up: it meets a wall 8 mm aside where that point moves 8 - 4 towards it.
    found = place(hands(beside_the_guide(*x)), ("S1",), Scatter(seed=4, **TURNING))
    tail = sides * turn_past(8.0 - 4.0, 56.0)
    share, low, high = chance(found, "S1", "guide_way")
    assert low <= tail <= high
    assert share == pytest.approx(tail, abs=0.02)
    assert chance(found, "plan", "guide_way")[0] == share
    assert chance(found, "S1", "avoid_clearance")[0] == 0.0


def test_a_guide_that_comes_near_and_meets_nothing_is_no_failure():
    near = hands(beside_the_guide(4.5))  # nearer than the 1 mm that is wanted: a caution
    found = place(near, ("S1",), Scatter(entry=0.0, direction=0.0, depth=0.0, draws=3))
    assert chance(found, "S1", "guide_way")[0] == 0.0


def test_without_obstacles_nothing_is_said_of_the_guides_way():
    found = place(hands(), ("S1",), Scatter(draws=3))
    assert math.isnan(chance(found, "S1", "guide_way")[0])
    assert chance(found, "S1", "drill_access")[0] == 0.0  # the bone is always there


def test_a_guides_way_that_cannot_be_told_has_no_chance():
    near = hands(beside_the_guide(8.0))
    unsure = replace(near, screws=changed(near.screws, "corridors", decided=False))
    found = place(unsure, ("S1",), Scatter(seed=4, **{**TURNING, "draws": 300}))
    for rule in ("guide_way", "drill_access"):
        assert math.isnan(chance(found, "S1", rule)[0])


def test_guide_meets_bone_beside_it_as_often_as_the_normal_tail_says():
    # A step of bone 9 mm aside rises past the guide. The guide's rim, 4 mm off its axis, is
    # told by lines up to its flat end at 60 mm: between 56 mm (round end) and 60 mm (flat).
    rim = [(-40, -20), (40, -20), (40, 80), (9, 80), (9, 0), (-40, 0)]
    mesh = trimesh.creation.extrude_polygon(Polygon(rim), 80.0)
    turn = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]])  # the polygon's second side upright
    bone = bone_of((np.array(mesh.vertices) @ turn.T + [0, 40, 0], np.array(mesh.faces)))
    zone = level(bone, 8.0)
    screws = screws_in(bone, [[0, 0, 30.0]], [[0, 0, -1.0]], zones=zone)
    around = Surroundings(bone=bone, zones=(zone,), obstacles=(), approach=None)
    found = place(
        Hands(screws, around, Limits(), Settings(), ()), ("S1",), Scatter(seed=4, **TURNING)
    )
    _, low, high = chance(found, "S1", "drill_access")
    assert low <= turn_past(9.0 - 4.0, 60.0)
    assert high >= turn_past(9.0 - 4.0, 56.0)


def test_forgiven_tilt_ends_where_the_guide_meets_a_nerve():
    # asin((7 - 4) / 56) = 3.07 degrees; the steps are halves.
    found = forgiving(hands(beside_the_guide(7.0)), Scatter(aim=3.0))
    assert found.tilt == pytest.approx([3.0])


def test_gliding_hole_is_too_short_as_often_as_its_depth_error_says():
    # Square on a level fracture: the thread bites the near side where the hole ends before it.
    found = place(hands(), ("S1",), Scatter(entry=0.0, direction=0.0, aim=1.0, draws=4000, seed=1))
    share, low, high = chance(found, "S1", "thread_across")
    tail = 0.5 * math.erfc(1.0 / math.sqrt(2.0))
    assert low <= tail <= high
    assert share < 0.5


def test_no_scatter_changes_nothing():
    found = place(hands(), ("S1",), Scatter(entry=0.0, direction=0.0, depth=0.0, draws=3))
    assert np.nanmax(found.chance) == 0.0
    assert found.subjects == ("S1", "plan")
    assert set(FAILURES) < set(found.rules)


def test_screws_that_nearly_meet_are_counted_in_pairs():
    # Centre lines 11.5 mm apart, heads of 8 mm: a gap of 3.5, short of 1 where the difference
    # of two shifts passes 2.5 across; shifts the other way only part the heads, so the tail
    # of that normal is the most that can be.
    near = hands(x=(0.0, 11.5))
    found = place(near, ("S1", "S2"), Scatter(entry=1.5, draws=2000, seed=2, **STILL))
    share, low, _ = chance(found, "S1+S2", "screw_gap")
    tail = 0.5 * math.erfc(2.5 / (1.5 * math.sqrt(2.0)) / math.sqrt(2.0))
    assert low < tail
    assert share > tail / 2.0
    assert share == chance(found, "plan", "screw_gap")[0]
    assert math.isnan(chance(found, "S1", "screw_gap")[0])
    assert math.isnan(chance(found, "S1+S2", "tilt")[0])


def test_same_seed_same_chances_and_another_seed_others():
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),))
    first, again, other = (
        place(near, ("S1",), Scatter(draws=300, seed=seed)).chance for seed in (7, 7, 8)
    )
    assert np.array_equal(first, again, equal_nan=True)
    assert not np.array_equal(first, other, equal_nan=True)


def test_batches_do_not_show(monkeypatch):
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),), x=(0.0, 20.0))
    whole = place(near, ("S1", "S2"), Scatter(draws=250))
    seen = []
    monkeypatch.setattr("trajplan.tolerance._placement.BATCH", 64)
    parts = place(
        near, ("S1", "S2"), Scatter(draws=250), progress=lambda done, of: seen.append((done, of))
    )
    assert np.array_equal(whole.chance, parts.chance, equal_nan=True)
    assert seen[-1] == (500, 500)
    assert all(a < b for (a, _), (b, _) in pairwise(seen))


def test_interval_of_wilson():
    # Newcombe 1998, Stat Med 17:857-872, table I: 81 of 263 gives 0.2553 to 0.3662 (from memory).
    low, high = wilson(np.array([81]), 263)
    assert (low[0], high[0]) == pytest.approx((0.2553, 0.3662), abs=5e-5)
    low, high = wilson(np.array([0, 10]), 10)
    assert low[0] == 0.0
    assert 0.0 < high[0] < 0.35
    assert high[1] == pytest.approx(1.0)


def test_twice_the_draws_shrink_the_interval_by_the_root_of_two():
    widths = [np.subtract(*wilson(np.array([n // 4]), n)[::-1])[0] for n in (4000, 8000)]
    assert widths[0] / widths[1] == pytest.approx(math.sqrt(2.0), rel=1e-3)


def test_scatter_has_the_deviation_asked_for():
    axes = Axes.along([[0, 0, 0]], [[0, 0, -1]])
    drawn, depth = scattered(axes, Scatter(entry=1.5, direction=3.0, draws=20000, seed=0))
    at_entry = drawn.at(np.full(20000, 10.0))  # origins stand back 10 mm
    assert at_entry[:, :2].std(axis=0) == pytest.approx(1.5, rel=0.03)
    angle = np.degrees(np.arccos(-drawn.direction[:, 2]))
    assert np.sqrt((angle**2).mean() / 2.0) == pytest.approx(3.0, rel=0.03)  # Rayleigh
    assert (depth.mean(), depth.std()) == pytest.approx((1.0, 1.0), abs=0.03)


def test_turning_keeps_the_angle_and_the_shift():
    axes = Axes.along([[1, 2, 3]], [[1, 1, 1]])
    moved = turned(axes, np.array([[[0.3, 0.4]]]), np.array([[[math.radians(6), 0.0]]]))
    assert math.degrees(math.acos(float(moved.direction[0] @ axes.direction[0]))) == pytest.approx(
        6
    )
    entry = moved.at(np.array([10.0]))[0]
    assert np.linalg.norm(entry - axes.origin[0]) == pytest.approx(0.5)
    assert (entry - axes.origin[0]) @ axes.direction[0] == pytest.approx(0.0, abs=1e-12)


def test_forgiven_shift_is_the_last_step_that_clears_the_wall():
    # The gap is 6 - radius - shift and must stay 2: shifts up to 1.75 pass, 1.75 just so.
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),))
    assert forgiving(near, Scatter()).shift == pytest.approx([1.75])


def test_forgiven_tilt_ends_where_the_fragments_slide():
    # arctan(0.1) = 5.7 degrees; the steps are halves.
    found = forgiving(hands(limits=Limits(friction=0.1, max_tilt=3.0)), Scatter(aim=3.0))
    assert found.tilt == pytest.approx([5.5])


def test_an_axis_that_fails_forgives_nothing():
    near = hands((obstacle(wall(3.0), role="avoid", clearance=2.0),))
    found = forgiving(near, Scatter())
    assert found.shift == pytest.approx([0.0])
    assert found.tilt == pytest.approx([0.0])
