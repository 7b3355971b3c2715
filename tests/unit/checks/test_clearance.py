"""Rules joint_clearance and avoid_clearance: screws stay clear of surfaces."""

import numpy as np
import pytest
from builders import changed, in_slab, obstacle, slab, tilted, words
from specimens import box, sphere

from trajplan.checks import Limits, Surroundings, clearance, too_near
from trajplan.checks import screw_rulings as all_rules
from trajplan.checks._spacing import cylinders


def sampled(screws, surface, count=401):
    """Distance by dense samples of shaft and head: at most half a step too great.

    Nearest points of triangles: trimesh.triangles.closest_point, every sample with every
    triangle.
    """
    import trimesh

    triangles = surface.triangles()
    least, slack = np.full(len(screws), np.inf), 0.0
    for start, end, radius in cylinders(screws):
        share = np.linspace(0, 1, count)[:, None, None]
        points = start + share * (end - start)
        slack = max(slack, np.linalg.norm(end - start, axis=1).max() / (count - 1) / 2)
        for triangle in triangles:
            flat = points.reshape(-1, 3)
            nearest = trimesh.triangles.closest_point(
                np.broadcast_to(triangle, (len(flat), 3, 3)), flat
            )
            far = np.linalg.norm(nearest - flat, axis=1).reshape(count, -1)
            least = np.minimum(least, far.min(axis=0) - radius)
    return least, slack


def test_measured_against_every_triangle():
    rng = np.random.default_rng(2)
    joint = obstacle(sphere(6.0, 1, centre=(10, 3, -24)))
    screws = in_slab(x=rng.uniform(-20, 20, 12), angle=15)
    ruling = clearance(screws, joint)
    brute, slack = sampled(screws, joint.surface)
    assert (ruling.measured <= brute + 1e-9).all()
    assert (ruling.measured >= brute - slack).all()
    assert ruling.measured.min() < 1 < ruling.measured.max()


def test_the_tip_under_a_joint_surface():
    """Tip at 22.69 with a round end of 2.25: 5.06 mm above a surface at -30."""
    joint = obstacle(box((-20, -20, -40), (20, 20, -30)))
    ruling = clearance(in_slab(), joint)
    assert words(ruling) == ["pass"]
    assert ruling.measured == pytest.approx(30 - 22.6928 - 2.25, abs=1e-3)
    longer = changed(in_slab(), tip=24.0)
    assert words(clearance(longer, joint)) == ["fail"]


def test_a_tip_in_the_joint_fails():
    joint = obstacle(box((-20, -20, -40), (20, 20, -21)))
    ruling = clearance(in_slab(), joint)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(-2.25)
    assert ruling.rule == "joint_clearance"


def test_the_head_counts():
    """Beside the head, radius 4, not the shaft: 10 - 4 from a wall at x = 10, above the bone."""
    nerve = obstacle(box((10, -5, 1), (12, 5, 9)), name="nerve", role="avoid", clearance=6.0)
    ruling = clearance(in_slab(), nerve)
    assert ruling.measured == pytest.approx(6.0)
    assert (words(ruling), ruling.rule) == (["pass"], "avoid_clearance")
    closer = obstacle(box((9.99, -5, 1), (12, 5, 9)), clearance=6.0)
    assert words(clearance(in_slab(), closer)) == ["fail"]


@pytest.mark.parametrize("keep", [0.5, 3.0, 5.0, 8.0])
def test_yes_or_no_agrees_with_the_measure(keep):
    joint = obstacle(sphere(6.0, 2, centre=(10, 3, -24)), clearance=keep)
    screws = in_slab(x=np.linspace(-38, 60, 60), angle=10)
    assert words(too_near(screws, joint)) == words(clearance(screws, joint))
    assert len(set(words(clearance(screws, joint)))) == 3  # pass, fail, and misses
    assert np.isnan(too_near(screws, joint).measured).all()


def test_exactly_at_the_limit_both_pass():
    wall = obstacle(box((10, -5, 1), (12, 5, 9)), clearance=6.0)
    assert words(too_near(in_slab(), wall)) == words(clearance(in_slab(), wall)) == ["pass"]


def test_a_screw_that_finds_no_seat_is_unknown():
    joint = obstacle(box((30, -5, 1), (32, 5, 9)))
    screws = changed(in_slab(x=[0, 5]), tip=[np.nan, 22.0])
    assert words(clearance(screws, joint)) == ["unknown", "pass"]
    assert words(too_near(screws, joint)) == ["unknown", "pass"]


def test_a_name_is_no_template():
    wall = obstacle(box((10, -5, 1), (12, 5, 9)), name="nerve {limit}", role="avoid")
    assert "nerve (limit)" in clearance(in_slab(), wall).findings(["screw 1"])[0].why


def test_one_ruling_for_each_obstacle():
    walls = (obstacle(box((10, -5, 1), (12, 5, 9))), obstacle(box((50, -5, 1), (52, 5, 9))))
    screws = in_slab(x=[0, 90])
    around = Surroundings(slab(), (in_slab_zone(),), walls, None)
    found = [r for r in all_rules(screws, Limits(), around) if r.rule == "joint_clearance"]
    assert [words(ruling) for ruling in found] == [["pass", None], ["pass", None]]


def in_slab_zone():
    from builders import level

    return level(slab(), 8.0)


def test_no_screw():
    assert words(clearance(in_slab(x=[]), obstacle(box()))) == []
    assert words(too_near(in_slab(x=[]), obstacle(box()))) == []
    assert tilted(0).tolist() == [0, 0, -1]
