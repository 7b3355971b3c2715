"""Clearance lines join the nearest places; the number is what the rules measure."""

import numpy as np
import pytest
import trimesh
from builders import case_of
from edited_plans import MESH, NORMAL, axes
from mesh_files import stl_bytes, write

from trajplan.checks import clearance, wire_clearance
from trajplan.files import WireRecord
from trajplan.planner import judge_axes, keep_wires, set_up
from trajplan.show._items.distances import distance_items, wire_distance_items


def items_of(case, table, row=0):
    setup = set_up(case, bone=MESH)
    plan = judge_axes(setup, table, placement=False)
    return setup, plan.assessment, distance_items(setup, plan.assessment, row)


def number(item):
    return float(item.label.partition(" mm, ")[0])


def test_a_ball_beside_the_screw(tmp_path):
    """Closed form: from the axis to the ball's centre, less both radii."""
    ball = trimesh.creation.icosphere(subdivisions=4, radius=2.0)
    side = np.array([0.0, 1.0, 0.0])
    centre = np.array([0.0, 0.0, 50.0]) + 9.0 * side  # beside the middle of the shaft
    mesh = write(tmp_path / "ball.stl", stl_bytes((ball.vertices + centre, ball.faces)))
    case = case_of(avoid=[{"name": "ball", "mesh": str(mesh), "clearance": 1.0}])
    table = axes(points=((0.0, 0.0, 50.0),), direction=NORMAL)
    setup, answer, items = items_of(case, table)
    line, label = items
    assert (line.name, line.role) == ("screw 1 to ball", "distance")
    gap = np.linalg.norm(line.points[1] - line.points[0])
    assert gap == pytest.approx(9.0 - 2.0 - 2.25, abs=0.01)
    measured = clearance(answer.screws, setup.around.obstacles[0]).measured[0]
    assert gap == pytest.approx(measured, abs=1e-3)
    assert number(label) == pytest.approx(measured, abs=0.05)
    assert line.points[0] == pytest.approx([0.0, 2.25, 50.0], abs=0.2)
    assert line.points[1] == pytest.approx([0.0, 7.0, 50.0], abs=0.2)


def test_parallel_screws_are_their_axes_less_their_heads_apart():
    """Closed form for parallel axes with heads side by side: 16 mm less two radii of 4 mm."""
    table = axes(points=((0.0, -8.0, 50.0), (0.0, 8.0, 50.0)), direction=NORMAL)
    _, _, (line, label) = items_of(case_of(), table)
    assert line.name == "screw 1 to screw 2"
    assert np.linalg.norm(line.points[1] - line.points[0]) == pytest.approx(8.0, abs=0.01)
    assert number(label) == pytest.approx(8.0, abs=0.05)


def test_what_touches_is_said_without_a_line():
    table = axes(points=((0.0, 0.0, 50.0), (0.0, 1.0, 50.0)), direction=NORMAL)
    _, _, items = items_of(case_of(), table)
    assert [item.label for item in items] == ["screw 2: touches"]


def test_a_screw_off_the_bone_measures_nothing():
    table = axes(points=((0.0, 0.0, 50.0), (0.0, 90.0, 50.0)), direction=NORMAL)
    assert items_of(case_of(), table, row=1)[2] == []
    assert items_of(case_of(), table, row=0)[2] == []


def test_wires_are_measured_like_screws(tmp_path):
    """Closed forms: parallel wires, a screw between them, and a ball beside the first."""
    ball = trimesh.creation.icosphere(subdivisions=4, radius=2.0)
    side = np.array([0.0, 1.0, 0.0])
    centre = np.array([0.0, 0.0, 50.0]) + 30.0 * side
    mesh = write(tmp_path / "ball.stl", stl_bytes((ball.vertices + centre, ball.faces)))
    case = case_of(avoid=[{"name": "ball", "mesh": str(mesh), "clearance": 1.0}])
    table = axes(points=((0.0, 0.0, 50.0),), direction=NORMAL)
    setup = set_up(case, bone=MESH)
    answer = judge_axes(setup, table, placement=False).assessment
    wires = keep_wires(setup, [wire(1, 9.0), wire(2, -9.0)], answer.screws)
    items = {i.name: i for i in wire_distance_items(setup, wires, answer, 0)}
    # From ball to wire, wire to wire, head to wire: centres less radii 2, 0.8 and 4 mm.
    for name, gap in (
        ("wire 1 to ball", 30.0 - 9.0 - 2.0 - 0.8),
        ("wire 2 to ball", 30.0 + 9.0 - 2.0 - 0.8),
        ("wire 1 to wire 2", 18.0 - 1.6),
        ("screw 1 to wire 1", 9.0 - 4.0 - 0.8),
        ("screw 1 to wire 2", 9.0 - 4.0 - 0.8),
    ):
        assert np.linalg.norm(np.diff(items[name].points, axis=0)) == pytest.approx(gap, abs=0.02)
        assert number(items[f"{name} label"]) == pytest.approx(gap, abs=0.06)
    told = wire_clearance(wires.paths, setup.around.obstacles[0], setup.limits).measured
    assert number(items["wire 1 to ball label"]) == pytest.approx(told[0], abs=0.05)


def wire(number, aside):
    """A wire along the fracture's normal, so far beside the middle."""
    middle, way = np.array([0.0, aside, 50.0]), np.asarray(NORMAL) / np.linalg.norm(NORMAL)
    return WireRecord(
        id=f"wire {number}",
        kind="W1.6",
        diameter=1.6,
        entry=tuple(middle - 20.0 * way),
        exit=tuple(middle + 20.0 * way),
        direction=tuple(way),
        fracture_depth=20.0,
        near_hold=5.0,
        far_hold=5.0,
        tilt=0.0,
    )
