"""What could hurt somebody, shown on whole plans; the table of hazards names these tests."""

import numpy as np
import pytest
import trimesh
from shaft_case import MESHES

from trajplan.files import AxesTable, read_plan, write_axes
from trajplan.implants import find_screw, load_catalogue


@pytest.fixture
def plan(run, folder):
    def _plan(name):
        answer = run("plan", MESHES / f"{name}.toml", "--no-picture", "--out", name)
        assert (answer.status, answer.err) == (0, "")
        return read_plan(folder / name / "plan.json")

    return _plan


@pytest.fixture
def check(run, folder):
    """Check axes against a demonstration case: one record an axis."""

    def _check(name, start, end, kind="HA4.5"):
        n = len(start)
        ids = tuple(f"A{i}" for i in range(n))
        table = AxesTable(ids, (kind,) * n, ("lag",) * n, start, end, tuple(range(n)))
        write_axes(folder / "axes.csv", table, "mm")
        run("check", MESHES / f"{name}.toml", "axes.csv", "--out", "out")
        return read_plan(folder / "out" / "check.json").screws

    return _check


def verdicts(screws, rule):
    return [f.verdict for screw in screws for f in screw.findings if f.rule == rule]


def ends(plan):
    return (np.array([getattr(screw, name) for screw in plan.screws]) for name in ("entry", "exit"))


@pytest.mark.parametrize("name", ["shaft", "shaft_groups", "end"])
def test_every_lag_screw_of_a_plan_bites_the_far_fragment_alone(plan, name):
    made = plan(name)
    assert made.screws
    for screw in made.screws:
        past = screw.gliding_hole.end if screw.gliding_hole else screw.thread.start
        assert past >= screw.fracture_depth.max
        assert screw.thread.end > past
        assert screw.purchase > 0.0


def test_the_whole_ring_of_a_tilted_screw_is_past_a_flat_fracture(plan, check):
    (zone,) = plan("shaft").fracture.zones
    point, normal = np.array(zone.point), np.array(zone.normal)
    tilt = np.radians([0.0, 5.0, 10.0, 15.0, 19.0])
    across = np.array([normal[2], 0.0, -normal[0]])  # square to the normal
    way = np.cos(tilt)[:, None] * normal + np.sin(tilt)[:, None] * across
    for angle, screw in zip(
        tilt, check("shaft", point - 40.0 * way, point + 40.0 * way), strict=True
    ):
        depth = np.linalg.norm(point - screw.entry)
        assert screw.fracture_depth.axis == pytest.approx(depth, abs=1e-4)
        # closed form: a cylinder of radius 2.25 mm meets a plane within +- r tan(tilt); its
        # ring of 16 lines reaches at least cos(pi / 16) of that
        reach = 2.25 * np.tan(angle)
        most, least = depth + reach + 1e-4, depth + reach * np.cos(np.pi / 16) - 1e-4
        assert least <= screw.fracture_depth.max <= most
        assert screw.gliding_hole.end >= least


def test_axes_drawn_on_a_mirrored_bone_fail(plan, check):
    made = plan("shaft")
    # the case says that the surgeon stands at low x, so the drill runs towards high x
    assert all(screw.direction[0] > 0.5 for screw in made.screws)
    start, end = ends(made)
    mirrored = check("shaft", start * [-1, 1, 1], end * [-1, 1, 1])
    assert verdicts(mirrored, "approach") == ["fail", "fail"]
    swapped = check("shaft", end, start)  # head and tip the wrong way round
    assert verdicts(swapped, "approach") == ["fail", "fail"]
    assert verdicts(check("shaft", start, end), "approach") == ["pass", "pass"]


def test_an_axis_into_the_joint_fails(plan, check):
    joint = trimesh.load_mesh(MESHES / "end_joint.stl")
    middle = np.array(joint.vertices).mean(axis=0)
    ways = np.array([[60.0, 0.0, -60.0], [-50.0, 20.0, -70.0]])
    into = check("end", middle + ways, middle - ways)
    assert verdicts(into, "joint_clearance") == ["fail", "fail"]
    for screw in plan("end").screws:
        (clear,) = [f for f in screw.findings if f.rule == "joint_clearance"]
        assert clear.verdict == "pass"
        # general library: no point of the cylinder is nearer to the joint than was said
        depth = np.linspace(screw.seat, screw.thread.end, 40)
        axis = np.array(screw.entry) + depth[:, None] * np.array(screw.direction)
        _, distance, _ = trimesh.proximity.closest_point(joint, axis)
        assert distance.min() - 6.5 / 2.0 >= clear.measured - 1e-3


def test_values_from_memory_are_named_in_the_plan(plan):
    sources = find_screw(load_catalogue(), "HA4.5").sources
    assert "not verified against the standard" in {source.status for source in sources.values()}
    assert any(
        "HA4.5" in text and "not verified against the standard" in text
        for text in plan("shaft").assumptions
    )
