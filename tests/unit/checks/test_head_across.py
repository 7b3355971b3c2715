"""Rule: head and washer bear on the near fragment alone.

The plane x + z = -8 meets the slab's upper face in the line x = -8. A washer that bears on both
sides of a fracture line bridges it, and the screw squeezes washer against bone, not bone against
bone (common practice).
"""

import numpy as np
import pytest
import trimesh
from builders import case_of, catalogue, in_slab, screws_in, shaft, slab, words, zone_of
from specimens import tube

from trajplan.checks import Limits, head_across
from trajplan.planner import plan_case

ZONE = zone_of(slab(), [0, 0, -8], [1, 0, 1])
WASHER = (catalogue().washers["13.0"],)
LIMITS = Limits()


def at(*x, **options):
    return in_slab(x=x, zones=ZONE, **options)


def judged(screws, *zones):
    return head_across(screws, LIMITS, zones or (ZONE,))


@pytest.mark.parametrize(
    ("washers", "radius", "name"), [((), 4.0, "head"), (WASHER, 6.5, "washer")]
)
def test_the_rim_of_what_bears_counts(washers, radius, name):
    """Distance of the entry from the line, less the radius; what is just met passes."""
    x = np.array([radius + 9.0, radius, radius - 0.1, 0.0]) - 8.0
    ruling = judged(at(*x, 90.0, washers=washers))
    assert words(ruling) == ["pass", "pass", "fail", "fail", None]
    assert ruling.measured[:4] == pytest.approx([9.0, 0.0, -0.1, -radius], abs=1e-9)
    why = [found.why for found in ruling.findings("abcde")]
    assert f"rim of the {name} keeps 9.0 mm" in why[0]
    assert f"The {name} lies across the fracture line, its rim 0.1 mm past it" in why[2]
    assert "nothing closes" in why[2]


@pytest.mark.parametrize("angle", [-40.0, -20.0, 20.0, 40.0])
def test_a_slanted_head_looks_along_its_own_axis(angle):
    """The line lies x + 8 from the entry, and (x + 8) cos(angle) from the axis."""
    x = np.array([-2.0, -3.0, -4.5])
    apart = (x + 8.0) * np.cos(np.radians(angle))
    ruling = judged(at(*x, angle=angle))
    assert ruling.measured == pytest.approx(apart - 4.0, abs=1e-9)
    assert words(ruling) == ["pass" if gap >= 4.0 else "fail" for gap in apart]


def test_the_line_round_the_far_side_is_not_under_the_head():
    """A slab 20 mm thick cut straight down at x = 20: a screw that comes out beside the line."""
    ruling = judged(at(0.0, angle=44.0), zone_of(slab(), [20, 0, -5], [1, 0, 0]))
    assert ruling.measured == pytest.approx(20.0 - 4.0, abs=1e-9)


def test_a_position_screw_closes_nothing_anyway():
    assert words(judged(at(-8.0, technique="position"))) == [None]


def test_no_screw():
    assert words(judged(at())) == []


def test_against_points_of_the_line_on_a_round_bone():
    """Independent: the section of trimesh, its line in points 0.01 mm apart, by brute force."""
    bone, normal = shaft(sides=48), np.array([0.8, 0.0, 0.6])
    zone = zone_of(bone, [0, 0, 50], normal)
    turn = np.radians(np.linspace(20.0, 160.0, 15))
    start = np.column_stack([30 * np.cos(turn), 30 * np.sin(turn), 50.0 + 25 * np.cos(turn)])
    aim = np.column_stack([np.zeros((15, 2)), start[:, 2] - 6.0])
    screws = screws_in(bone, start, aim - start, zones=zone, kind="HA3.5")
    mesh = trimesh.Trimesh(*tube(sides=48)[:2], process=False)
    ends = trimesh.intersections.mesh_plane(mesh, normal, [0, 0, 50])
    outer = ends[np.linalg.norm(ends[:, 0, :2], axis=1) > 12.0]
    share = np.linspace(0.0, 1.0, 400)[:, None, None]
    line = (outer[:, 0] + share * (outer[:, 1] - outer[:, 0])).reshape(-1, 3)
    axes = screws.corridors.axes
    for row, measured in enumerate(judged(screws, zone).measured):
        from_entry = line - axes.origin[row]
        along = np.clip(from_entry @ axes.direction[row], -3.0, 3.0)
        apart = np.linalg.norm(from_entry - along[:, None] * axes.direction[row], axis=1)
        far = np.linalg.norm(from_entry, axis=1).min()
        want = apart.min() if far < 6.0 else far
        assert measured == pytest.approx(want - 3.0, abs=2e-3)


def test_no_washer_of_a_plan_lies_across_the_fracture():
    plan = plan_case(case_of(screws={"washer": True}), bone=tube(sides=32))
    said = [f for own in plan.assessment.findings for f in own if f.rule == "head_across"]
    assert len(said) == len(plan.assessment.ids) > 0
    assert {finding.verdict.word for finding in said} == {"pass"}


def test_a_washer_that_the_hole_alone_would_let_pass():
    """The hole keeps half a diameter of bone and more, the washer bridges the line."""
    from trajplan.checks import fracture_edge

    screws = at(-3.0, washers=WASHER)
    assert words(fracture_edge(screws, LIMITS, (ZONE,))) == ["caution"]
    assert words(judged(screws)) == ["fail"]
