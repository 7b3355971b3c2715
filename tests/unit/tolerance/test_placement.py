"""Placement error against closed forms: a wall beside the screw, a tube round it."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from builders import bone_of, changed, in_slab, level, obstacle, screws_in, slab, zone_of
from shapely import Polygon
from specimens import box, cylinder

from trajplan.checks import Limits, Surroundings, Verdict, screw_rulings
from trajplan.geometry import frames
from trajplan.tolerance import (
    RULES,
    WAYS,
    Hands,
    Scatter,
    compared,
    forgiving,
    place,
    scattered,
    turned,
    wilson,
)
from trajplan.tolerance._scatter import PLUNGE_SPREAD
from trajplan.trajectory import Axes, Settings

RADIUS = 4.5 / 2.0
STILL = {"direction": 0.0, "slant": 0.0, "plunge": 0.0}
NO_ERROR = {"entry": 0.0, **STILL}
SQUARE = np.zeros((1, 2))


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
    return chances.of(subject, rule)


def test_wall_beside_the_screw_is_met_as_often_as_the_normal_tail_says():
    # Shift across the axis only: the gap is 6 - radius - shift, short of 2 where the shift
    # passes 1.75; source: the normal distribution.
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),))
    found = place(near, ("screw 1",), Scatter(entry=1.5, draws=4000, seed=3, **STILL))
    tail = 0.5 * math.erfc((6.0 - RADIUS - 2.0) / 1.5 / math.sqrt(2.0))
    share, low, high = chance(found, "screw 1", "avoid_clearance")
    assert low <= tail <= high
    assert share == pytest.approx(tail, abs=0.02)


def test_tube_round_the_screw_is_met_as_often_as_the_rayleigh_tail_says():
    # Two equal normal shifts: their length is Rayleigh, tail exp(-x^2 / 2 s^2).
    vertices, faces = cylinder(7.0, 10.0, sides=256, start=-18.0)
    side = np.ptp(vertices[faces][:, :, 2], axis=1) > 0.0
    tube = vertices, faces[side]
    near = hands((obstacle(tube, role="avoid", clearance=2.0),))
    found = place(near, ("screw 1",), Scatter(entry=1.5, draws=4000, seed=5, **STILL))
    tail = math.exp(-((7.0 - RADIUS - 2.0) ** 2) / (2.0 * 1.5**2))
    share, low, high = chance(found, "screw 1", "avoid_clearance")
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


TURNING = {"entry": 0.0, "direction": 3.0, "slant": 0.0, "plunge": 0.0, "draws": 20000}


@pytest.mark.parametrize(("x", "sides"), [((8.0,), 1), ((-8.0, 8.0), 2), ((8.0, 90.0), 1)])
def test_guide_meets_what_stands_beside_it_as_often_as_the_normal_tail_says(x, sides):
    # The axis turns about the entry. The guide, 60 mm long and 8 wide, ends in a half sphere
    # about a point 56 mm up: it meets a wall 8 mm aside where that point moves 8 - 4 towards it.
    found = place(hands(beside_the_guide(*x)), ("screw 1",), Scatter(seed=4, **TURNING))
    tail = sides * turn_past(8.0 - 4.0, 56.0)
    share, low, high = chance(found, "screw 1", "guide_way")
    assert low <= tail <= high
    assert share == pytest.approx(tail, abs=0.02)
    assert chance(found, "plan", "guide_way")[0] == share
    assert chance(found, "screw 1", "avoid_clearance")[0] == 0.0


def test_a_guide_that_comes_near_and_meets_nothing_is_no_failure():
    near = hands(beside_the_guide(4.5))  # nearer than the 1 mm that is wanted: a caution
    found = place(near, ("screw 1",), Scatter(draws=3, **NO_ERROR))
    assert chance(found, "screw 1", "guide_way")[0] == 0.0


def test_without_obstacles_nothing_is_said_of_the_guides_way():
    found = place(hands(), ("screw 1",), Scatter(draws=3))
    assert math.isnan(chance(found, "screw 1", "guide_way")[0])
    assert chance(found, "screw 1", "drill_access")[0] == 0.0  # the bone is always there


def test_a_guides_way_that_cannot_be_told_has_no_chance():
    near = hands(beside_the_guide(8.0))
    unsure = replace(near, screws=changed(near.screws, "corridors", decided=False))
    found = place(unsure, ("screw 1",), Scatter(seed=4, **{**TURNING, "draws": 300}))
    for rule in ("guide_way", "drill_access"):
        assert math.isnan(chance(found, "screw 1", rule)[0])


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
        Hands(screws, around, Limits(), Settings(), ()), ("screw 1",), Scatter(seed=4, **TURNING)
    )
    _, low, high = chance(found, "screw 1", "drill_access")
    assert low <= turn_past(9.0 - 4.0, 60.0)
    assert high >= turn_past(9.0 - 4.0, 56.0)


def test_forgiven_tilt_ends_where_the_guide_meets_a_nerve():
    # asin((7 - 4) / 56) = 3.07 degrees; the steps are halves.
    found = forgiving(hands(beside_the_guide(7.0)), Scatter())
    assert found.tilt == pytest.approx([3.0])


def test_a_gliding_hole_drilled_by_feel_is_never_too_short():
    """However hands err, it ends past the fracture of the line that was drilled."""
    zone = zone_of(slab(20.0), [0, 0, -8], [0.3, 0, 1])
    screws = in_slab(20.0, 8.0, zones=zone)
    around = Surroundings(bone=slab(20.0), zones=(zone,), obstacles=(), approach=None)
    slanted = Hands(screws, around, Limits(), Settings(), ())
    found = place(slanted, ("screw 1",), Scatter(draws=500))
    assert chance(found, "screw 1", "thread_across")[0] == 0.0
    assert chance(found, "screw 1", "near_thread")[0] == 0.0


def test_the_drill_meets_what_lies_behind_the_wall_as_often_as_the_normal_tail_says():
    # A plate 6.5 mm behind the far wall, square to the drill: met where the plunge is deeper.
    plate = box((-60, -60, -36.5), (60, 60, -26.5))
    behind = hands((obstacle(plate, role="avoid", clearance=0.1),))
    found = place(behind, ("screw 1",), Scatter(draws=4000, seed=6, **{**NO_ERROR, "plunge": 5.1}))
    tail = 0.5 * math.erfc((6.5 / 5.1 - 1.0) / PLUNGE_SPREAD / math.sqrt(2.0))
    share, low, high = chance(found, "screw 1", "drill_met")
    assert low <= tail <= high
    assert share == chance(found, "plan", "harm")[0]
    assert chance(found, "screw 1", "structure_met")[0] == 0.0  # the screw itself ends short of it


def test_room_to_spare_is_no_harm_until_the_structure_is_met():
    # The gap is 6 - radius - shift: less than the 2 mm wanted from 1.75 on, met from 3.75 on.
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),))
    found = place(near, ("screw 1",), Scatter(entry=1.5, draws=4000, seed=3, **STILL))
    met = 0.5 * math.erfc((6.0 - RADIUS) / 1.5 / math.sqrt(2.0))
    wanted = 0.5 * math.erfc((6.0 - RADIUS - 2.0) / 1.5 / math.sqrt(2.0))
    share, low, high = chance(found, "screw 1", "structure_met")
    assert low <= met <= high
    assert share == chance(found, "screw 1", "harm")[0]
    _, low, high = chance(found, "screw 1", "avoid_clearance")
    assert low <= wanted <= high
    assert (
        chance(found, "screw 1", "less")[0] == 0.0
    )  # room to spare that was used up: told, no loss


def test_lengths_are_chosen_by_the_gauge_of_the_line_that_was_drilled():
    """A far wall that slants: a hole off its line is longer, and gets a longer screw."""
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    low = vertices[:, 2] < 0
    vertices[low, 2] = -30.0 + vertices[low, 0] * math.tan(math.radians(40.0))
    bone = bone_of((vertices, faces))
    zone = zone_of(bone, [0, 0, -5], [0, 0, 1])
    screws = screws_in(bone, [[0, 0, 9]], [[0, 0, -1]], zones=zone)
    around = Surroundings(bone=bone, zones=(zone,), obstacles=(), approach=None)
    tried = Hands(screws, around, Limits(), Settings(), ())
    aside = Axes.along([[-6.0, 0, 9], [0, 0, 9], [6.0, 0, 9]], [[0, 0, -1]] * 3)
    put = tried.put_in(aside, np.zeros(3, dtype=int), np.zeros(3))
    assert put.length[1] == screws.length[0]
    assert put.gauge[0] > put.gauge[1] > put.gauge[2]
    assert put.length[0] > put.length[1] > put.length[2]


def test_a_blind_hole_keeps_its_planned_screw_and_thread():
    screws = in_slab(60.0, 20.0, kind="HB6.5")
    bone = slab(60.0)
    around = Surroundings(bone=bone, zones=(level(bone, 20.0),), obstacles=(), approach=None)
    tried = Hands(screws, around, Limits(), Settings(), ())
    put = tried.put_in(Axes.along([[3, 2, 9.0]], [[0, 0, -1.0]]), np.zeros(1, int), np.zeros(1))
    assert put.length == screws.length
    assert put.tip - put.thread_from == pytest.approx(screws.tip - screws.thread_from)


def unsure_of(rule, monkeypatch, share):
    """Let a rule be unable to tell of some axes: those that enter past a quantile of x."""

    def rulings(screws, limits, around, *, measure, only):
        every = screw_rulings(screws, limits, around, measure=measure, only=only)
        if len(screws) == 1:  # the planned line is told
            return every
        x = screws.corridors.axes.origin[:, 0]
        dark = x > np.quantile(x, 1.0 - share)
        return [
            replace(r, verdict=np.where(dark, Verdict.UNKNOWN, r.verdict)) if r.rule == rule else r
            for r in every
        ]

    monkeypatch.setattr("trajplan.tolerance._placement.screw_rulings", rulings)


def test_tries_that_cannot_be_told_are_nobodys_fault(monkeypatch):
    unsure_of("tilt", monkeypatch, 0.4)
    found = place(hands(), ("screw 1",), Scatter(draws=500, seed=1))
    assert found.unknown == pytest.approx([0.4, 0.4], abs=0.01)
    assert chance(found, "screw 1", "harm")[0] == chance(found, "screw 1", "less")[0] == 0.0
    assert chance(found, "screw 1", "tilt")[0] == 0.0
    told = wilson(np.array([0]), 300)[1][0]
    assert chance(found, "plan", "harm")[2] == pytest.approx(told, abs=1e-3)  # fewer were told


def test_where_no_try_can_be_told_there_is_no_chance(monkeypatch):
    unsure_of("tilt", monkeypatch, 1.1)
    monkeypatch.setattr(np, "quantile", lambda x, _: -np.inf)
    found = place(hands(), ("screw 1",), Scatter(draws=50))
    assert found.unknown == pytest.approx([1.0, 1.0])
    assert np.isnan(chance(found, "plan", "harm")).all()


def test_no_scatter_changes_nothing():
    found = place(hands(), ("screw 1",), Scatter(draws=3, **NO_ERROR))
    assert np.nanmax(found.chance) == 0.0
    assert found.subjects == ("screw 1", "plan")
    assert found.rules == (*RULES, "harm", "less")


def test_screws_that_nearly_meet_are_counted_in_pairs():
    # Centre lines 11.5 mm apart, heads of 8 mm: a gap of 3.5, short of 1 where the difference
    # of two shifts passes 2.5 across; shifts the other way only part the heads, so the tail
    # of that normal is the most that can be.
    near = hands(x=(0.0, 11.5))
    found = place(near, ("screw 1", "screw 2"), Scatter(entry=1.5, draws=2000, seed=2, **STILL))
    share, low, _ = chance(found, "screw 1 + screw 2", "screw_gap")
    tail = 0.5 * math.erfc(2.5 / (1.5 * math.sqrt(2.0)) / math.sqrt(2.0))
    assert low < tail
    assert share > tail / 2.0
    assert share == chance(found, "plan", "screw_gap")[0]
    assert chance(found, "screw 1 + screw 2", "screws_meet")[0] < share
    assert math.isnan(chance(found, "screw 1", "screw_gap")[0])
    assert math.isnan(chance(found, "screw 1 + screw 2", "tilt")[0])


def test_heads_that_would_meet_are_seen_and_shafts_that_meet_do_harm():
    """Upright screws 7 mm apart: heads of 8 mm meet, shafts of 4.5 mm do not; 4 mm apart they do.

    The first head stands in sight where the second hole is drilled (common practice)."""
    for apart, harm in ((7.0, 0.0), (4.0, 1.0)):
        found = place(hands(x=(0.0, apart)), ("screw 1", "screw 2"), Scatter(draws=3, **NO_ERROR))
        assert chance(found, "screw 1 + screw 2", "screw_gap")[0] == 1.0
        for subject, rule in (("screw 1 + screw 2", "screws_meet"), ("plan", "harm")):
            assert chance(found, subject, rule)[0] == harm
        assert chance(found, "plan", "less")[0] == 0.0


def test_same_seed_same_chances_and_another_seed_others():
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),))
    first, again, other = (
        place(near, ("screw 1",), Scatter(draws=300, seed=seed)).chance for seed in (7, 7, 8)
    )
    assert np.array_equal(first, again, equal_nan=True)
    assert not np.array_equal(first, other, equal_nan=True)


def test_ways_that_are_tried_together_come_to_what_each_comes_to_alone():
    near = hands((obstacle(wall(6.0), role="joint"),), x=(0.0, 40.0))
    found = compared(near, ("screw 1", "screw 2"), "free hand", Scatter(draws=300, seed=2))
    alone = {way: Scatter(*WAYS[way][:3], draws=60, seed=2) for way in ("sleeve", "guide")}
    without = {
        "entry": Scatter(entry=0.0, draws=50, seed=2),
        "direction": Scatter(direction=0.0, slant=0.0, draws=50, seed=2),
        "plunge": Scatter(plunge=0.0, draws=50, seed=2),
    }
    for seen, scatters in ((found.ways, alone), (found.without, without)):
        assert list(seen) == list(scatters)
        for name, scatter in scatters.items():
            one = place(near, ("screw 1", "screw 2"), scatter)
            assert seen[name].draws == scatter.draws
            for part in ("chance", "low", "high", "unknown"):
                assert getattr(seen[name], part) == pytest.approx(getattr(one, part), nan_ok=True)
    assert found.ways["guide"].of("screw 1", "joint_clearance")[0] > 0.0  # something is at stake
    assert found.without["entry"].of("plan", "harm") != found.without["plunge"].of("plan", "harm")


def test_rules_that_are_asked_for_alone_answer_as_among_all():
    near = hands((obstacle(wall(6.0), role="joint"), obstacle(wall(-9.0), role="avoid")))
    args = (near.screws, near.limits, near.around)
    every = screw_rulings(*args, measure=False)
    for rule in {ruling.rule for ruling in every}:
        alone = screw_rulings(*args, measure=False, only=(rule,))
        among = [ruling for ruling in every if ruling.rule == rule]
        assert [ruling.rule for ruling in alone] == [rule] * len(among)
        for one, other in zip(alone, among, strict=True):
            assert (one.verdict == other.verdict).all()


def test_batches_do_not_show(monkeypatch):
    near = hands((obstacle(wall(6.0), role="avoid", clearance=2.0),), x=(0.0, 20.0))
    whole = place(near, ("screw 1", "screw 2"), Scatter(draws=250))
    seen = []
    monkeypatch.setattr("trajplan.tolerance._placement.BATCH", 64)
    parts = place(
        near,
        ("screw 1", "screw 2"),
        Scatter(draws=250),
        progress=lambda done, of: seen.append((done, of)),
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
    spread = Scatter(entry=1.5, direction=3.0, plunge=6.0, draws=20000, seed=0)
    drawn = scattered(axes, SQUARE, spread)
    at_entry = drawn.axes.at(np.full(20000, 10.0))  # origins stand back 10 mm
    assert at_entry[:, :2].std(axis=0) == pytest.approx(1.5, rel=0.03)
    angle = np.degrees(np.arccos(-drawn.axes.direction[:, 2]))
    assert np.sqrt((angle**2).mean() / 2.0) == pytest.approx(3.0, rel=0.03)  # Rayleigh
    for plunge in (drawn.plunge, drawn.beyond):
        assert (plunge.mean(), plunge.min()) == (pytest.approx(6.0, rel=0.02), 0.0)
        assert plunge.std() == pytest.approx(6.0 * PLUNGE_SPREAD, rel=0.03)
    assert abs(np.corrcoef(drawn.plunge, drawn.beyond)[0, 1]) < 0.03


def test_the_direction_errs_more_in_the_plane_of_a_slant_and_no_more_across_it():
    slant = 52.5
    axis = np.array([[0.0, 0.0, -1.0]])
    spread = Scatter(entry=0.0, direction=2.0, slant=10.0, draws=20000)
    across = frames(axis)[0, :2]
    for way in (0.3, 1.9):
        down = np.array([math.cos(way), math.sin(way)])
        slope = math.tan(math.radians(slant)) * down[None]
        drawn = scattered(Axes.along([[0, 0, 0]], axis), slope, spread).axes.direction
        aside = np.degrees(np.arcsin(drawn @ across.T))
        assert (aside @ down).std() == pytest.approx(12.0, rel=0.03)
        assert (aside @ [-down[1], down[0]]).std() == pytest.approx(2.0, rel=0.04)


def test_a_slant_that_is_not_known_is_taken_for_square():
    drawn = scattered(Axes.along([[0, 0, 0]], [[0, 0, -1]]), np.full((1, 2), np.nan), Scatter())
    assert np.isfinite(drawn.axes.direction).all()


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
    found = forgiving(
        hands(limits=Limits(friction=0.1, friction_most=0.1, max_tilt=3.0)), Scatter()
    )
    assert found.tilt == pytest.approx([5.5])


def test_an_axis_that_fails_forgives_nothing():
    near = hands((obstacle(wall(3.0), role="avoid", clearance=2.0),))
    found = forgiving(near, Scatter())
    assert found.shift == pytest.approx([0.0])
    assert found.tilt == pytest.approx([0.0])


def test_between_square_and_slant_the_spread_grows_with_the_square_of_the_slant():
    """What README tells: 2.8 degrees on a square wall, 7 at 30 degrees, 12 at 45, 16 at 52.5;
    past 60, the steepest that was drilled, no more is known."""
    spread = Scatter().at(np.array([0.0, 30.0, 45.0, 52.5, 60.0, 80.0, math.nan]))
    assert spread[:4] == pytest.approx([2.81, 7.05, 12.35, 15.79], abs=0.02)
    assert spread[4] == spread[5]
    assert spread[6] == spread[0]
