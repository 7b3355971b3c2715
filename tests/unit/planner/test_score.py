"""Scores: what makes one candidate, or one pair, better than another."""

from dataclasses import replace

import numpy as np
import pytest
from builders import changed, in_slab, level, obstacle, shaft, slab, zone_of
from specimens import box

from trajplan.checks import Limits, Ruling, Surroundings, Verdict, screw_rulings
from trajplan.planner._score import (
    ASKEW_ANGLE,
    ASKEW_COST,
    BONE_WEIGHT,
    CAUTION_COST,
    OTHER_WEIGHT,
    WEIGHTS,
    pair_scores,
    score_shares,
    scores,
)
from trajplan.trajectory import Technique, Within, everywhere

ZONES = (level(slab(), 8.0),)
HAND = 1.5


def score(screws, *obstacles):
    around = Surroundings(slab(), ZONES, obstacles, None)
    return scores(screws, screw_rulings(screws, Limits(), around), Limits(), ZONES, HAND)


def test_square_is_better_than_aslant():
    values = [score(in_slab(angle=a, cortex=8.0))[0] for a in (0, 5, 10, 19)]
    assert values == sorted(values, reverse=True)


def test_of_lines_that_are_alike_the_one_in_better_bone_wins():
    """Twice the hold in a CT is worth the same at any strength; the unknown is worth nothing."""
    screws = in_slab(x=np.zeros(4), cortex=8.0)
    rulings = screw_rulings(screws, Limits(), Surroundings(slab(), ZONES, (), None))
    hold = np.array([400.0, 800.0, 1600.0, np.nan])
    found = scores(screws, rulings, Limits(), ZONES, HAND, hold)
    step = BONE_WEIGHT / (sum(WEIGHTS.values()) + BONE_WEIGHT) * np.log(2) / np.log(100)
    assert np.diff(found[:3]) == pytest.approx([step, step])
    assert found[3] < found[0]


def test_square_on_the_zone_and_on_the_surface():
    """A screw along the zone's normal counts as aslant as the surface round its crossing is."""
    screws = in_slab(x=np.zeros(2), cortex=8.0)
    rulings = screw_rulings(screws, Limits(), Surroundings(slab(), ZONES, (), None))
    (local,) = [ruling for ruling in rulings if ruling.rule == "local_tilt"]
    steep = replace(local, measured=np.array([np.nan, 12.0]))
    both = [steep if ruling is local else ruling for ruling in rulings]
    on_plane, on_slope = scores(screws, both, Limits(), ZONES, HAND)
    planned = Limits().planned_tilt
    assert on_plane - on_slope == pytest.approx(
        WEIGHTS["square"] / sum(WEIGHTS.values()) * 12.0 / planned
    )


def test_more_purchase_is_better_up_to_enough():
    screws = changed(in_slab(x=np.zeros(3), cortex=8.0), purchase=np.array([5.5, 8.0, 9.0]))
    low, more, most = score(screws)
    assert low < more < most
    beyond = changed(screws, purchase=np.array([10.5, 11.0, 90.0]))
    assert np.ptp(score(beyond)) == pytest.approx(0.0)


def test_a_thin_fragment_is_worse_up_to_three_diameters():
    """HA4.5: 13.5 mm of either fragment are enough; the head sits on the near one."""
    screws = in_slab(40.0, 20.0, x=np.zeros(4), cortex=8.0)
    depth = screws.seats.seat[0] + np.array([3.0, 6.0, 13.5, 15.0])
    lines = np.repeat(depth[:, None], screws.crossing.lines.shape[1], axis=1)
    values = score(replace(screws, crossing=replace(screws.crossing, lines=lines)))
    assert values[0] < values[1] < values[2]
    per_mm = WEIGHTS["fragments"] / sum(WEIGHTS.values()) / (3.0 * 4.5)
    assert values[1] - values[0] == pytest.approx(3.0 * per_mm)
    assert values[2] == pytest.approx(values[3])


def test_a_thin_edge_beside_the_screw_is_worse_up_to_one_diameter():
    """The slab ends at x = 40: the thread of 4.5 mm leaves 2.25, 4.5 and 10 mm beside it."""
    screws = in_slab(x=40.0 - 2.25 - np.array([2.25, 4.5, 10.0]), cortex=8.0)
    rulings = screw_rulings(screws, Limits(), Surroundings(slab(), ZONES, (), None))
    shares = score_shares(screws, rulings, Limits(), ZONES)
    assert shares["beside"] == pytest.approx([0.5, 1.0, 1.0], abs=1e-6)


def test_a_caution_and_an_unknown_cost():
    screws = changed(in_slab(x=np.zeros(2), cortex=8.0))
    fine, proud = score(
        changed(screws, tip=screws.seats.seat + screws.gauge + np.array([2.9, 3.1]))
    )
    assert fine - proud == pytest.approx(CAUTION_COST)


def test_room_to_an_obstacle_is_better():
    near = obstacle(box((12, -5, -30), (14, 5, 9)), clearance=6.0)
    far = obstacle(box((30, -5, -30), (34, 5, 9)), clearance=4.0)
    screws = in_slab(cortex=8.0)
    assert score(screws, near)[0] < score(screws, far)[0] == pytest.approx(score(screws)[0])


def test_a_clearance_that_a_hand_would_miss_costs_as_a_caution():
    """A box beside the axis: 12 mm less half a head; only what it asks for differs."""
    screws = in_slab(cortex=8.0)
    gap = 12.0 - screws.dims.head[0] / 2.0
    body = box((12, -5, -30), (14, 5, 9))
    spare, tight = (
        score(screws, obstacle(body, clearance=gap - HAND - more))[0] for more in (1e-6, -1e-6)
    )
    assert spare - tight == pytest.approx(CAUTION_COST, abs=1e-5)


def test_a_partial_thread_that_a_hand_would_bring_across_costs_as_a_caution():
    """2 mm past the fracture are chosen for (limit `thread_clear`): what hands err in depth."""
    screws = in_slab(60.0, 20.0, kind="HB6.5", inside=everywhere(Within.CANCELLOUS))
    assert screws.technique.tolist() == [Technique.PARTIAL]
    deep = screws.crossing.deep[0]
    spare, tight = (
        score(changed(screws, bite_from=deep + Limits().thread_clear + more))[0]
        for more in (1e-6, -1e-6)
    )
    assert spare - tight == pytest.approx(CAUTION_COST, abs=1e-5)


def test_scores_are_numbers_even_where_an_axis_misses():
    assert np.isfinite(score(in_slab(x=[0, 90]))).all()
    assert score(in_slab(x=[])).shape == (0,)


def answers(*verdicts):
    n = len(verdicts)
    return Ruling("r", np.array(verdicts, dtype=np.int8), np.zeros(n), np.zeros(n), "", "", {})


def test_pairs_gain_by_spread_and_lose_by_meeting():
    zone = zone_of(shaft(), [0, 0, 50], [0.866, 0, 0.5])
    crossing = np.array([[0, 0, 0], [3, 0, 0], [9, 0, 0.0]])
    direction = np.tile([0.0, 0, 1], (3, 1))
    fine, crowded, meets = int(Verdict.PASS), int(Verdict.CAUTION), int(Verdict.FAIL)
    spacing, gap = answers(crowded, fine, fine), answers(fine, fine, meets)
    own = np.zeros(3, dtype=np.int64)
    table = pair_scores(crossing, direction, own, (zone,), spacing, gap, 90.0)
    assert np.array_equal(table, table.T)
    assert table[1, 2] == -np.inf
    assert table[0, 2] > table[0, 1] + CAUTION_COST
    turned = direction * [[1], [1], [-1]]
    opposite = pair_scores(crossing, turned, own, (zone,), spacing, gap, 90.0)
    assert opposite[0, 2] < table[0, 2]
    assert opposite[0, 1] == table[0, 1]


def test_screws_across_one_flat_fracture_run_parallel():
    """Half of `ASKEW_ANGLE` apart costs half; across two zones of a curved one, nothing."""
    zone = zone_of(shaft(), [0, 0, 50], [0.866, 0, 0.5])
    angle = np.radians(ASKEW_ANGLE / 2.0)
    direction = np.array([[0, 0, 1], [np.sin(angle), 0, np.cos(angle)], [0, 0, -1.0]])
    fine = answers(*[int(Verdict.PASS)] * 3)
    crossing = np.zeros((3, 3))
    flat = pair_scores(crossing, direction, np.zeros(3, int), (zone,), fine, fine, 180.0)
    assert flat[0, 1] == pytest.approx(-ASKEW_COST / 2.0)
    assert flat[0, 2] == 0.0  # from the other side, along the same line
    curved = pair_scores(crossing, direction, np.arange(3), (zone,) * 3, fine, fine, 180.0)
    assert curved[0, 1] == 0.0


def test_two_fractures_get_a_screw_each_before_one_gets_two():
    zone = zone_of(shaft(), [0, 0, 50], [0.866, 0, 0.5])
    zones = (replace(zone, fragments=(0, 1)), replace(zone, fragments=(1, 2)), zone)
    crossing, direction = np.zeros((4, 3)), np.tile([0.0, 0, 1], (4, 1))
    fine = answers(*[int(Verdict.PASS)] * 6)
    table = pair_scores(crossing, direction, np.array([0, 0, 1, 2]), zones, fine, fine, 90.0)
    assert table[0, 1] == 0.0
    assert table[0, 2] == table[1, 2] == table[0, 3] == pytest.approx(OTHER_WEIGHT)
