"""Exports against closed forms, a general library's reader, and the check of the plan's own axes.

Sources: volumes of 32-sided cylinders (geometry); the catalogue for sizes; glTF 2.0
specification, section 3.4, for metres.
"""

from pathlib import Path

import numpy as np
import pytest
import trimesh

import trajplan
from trajplan.bone import make_bone, read_surface
from trajplan.errors import OutputError
from trajplan.files import read_axes, read_case, write_axes
from trajplan.implants import find_screw
from trajplan.planner import check_axes, plan_case, plan_record
from trajplan.show import axes_table, export_drills, export_scene, export_screws, scene
from trajplan.show._items.screw_solid import screw_solid, washer_solid

CORNERS = 32
#: Area of a regular polygon as a share of its circle's.
POLYGON = CORNERS / (2 * np.pi) * np.sin(2 * np.pi / CORNERS)
DRILLS = {
    "thread_hole": {"diameter": 3.2, "from": 14.0, "to": 26.0},
    "direction": (0.6, 0.0, 0.8),
    "entry": (-13.0, 220.0, -310.0),
}


@pytest.fixture
def washered(record):
    return record(
        "screw 2", kind="HB6.5", length=60.0, washer="13.0", gliding_hole=None, seat=-1.5,
        thread={"from": 26.5, "to": 58.5},
    )  # fmt: skip


def solids(path):
    """Closed pieces of a mesh file, equal points made one."""
    mesh = trimesh.load_mesh(path)
    mesh.merge_vertices()
    mesh.update_faces(mesh.nondegenerate_faces(height=0.0))
    return mesh.split(only_watertight=False)


@pytest.mark.parametrize("kind", ["HA1.5", "HA4.5", "HB4.0", "HB6.5"])
@pytest.mark.parametrize("end", [0, -1])
def test_screw_is_one_closed_solid_of_its_size(record, catalogue, kind, end):
    screw = find_screw(catalogue, kind)
    length = screw.lengths[end]
    turn = screw.thread_lengths[0] if screw.partial else length
    thread = {"from": 0.5 + length - turn, "to": 0.5 + length}
    solid = screw_solid(record(kind=kind, length=length, thread=thread), screw)
    assert solid.is_volume
    assert solid.body_count == 1
    low, high = solid.bounds
    assert low[0] == pytest.approx(-12.5 - screw.head_height, abs=2e-3)
    assert high[0] == pytest.approx(-12.5 + length, abs=2e-3)
    assert high[2] - low[2] == pytest.approx(screw.head_diameter, rel=0.01)
    # between its core alone and its thread filled up, each with the half-ball of a head
    head = POLYGON * 2 / 3 * np.pi * screw.head_radius**3
    core, full = (
        head + POLYGON * np.pi / 4 * d**2 * length
        for d in (screw.core_diameter, screw.thread_diameter)
    )
    assert 0.9 * core < solid.volume < full


def test_thread_of_the_solid_reaches_its_crest_where_it_is_planned(record, catalogue):
    screw = find_screw(catalogue, "HB6.5")
    solid = screw_solid(record(kind="HB6.5", length=60.0, thread={"from": 28.5, "to": 60.5}), screw)
    radius = np.hypot(solid.vertices[:, 1], solid.vertices[:, 2])
    depth = solid.vertices[:, 0] + 13.0
    shaft = depth > 0.6
    assert radius[shaft].max() == pytest.approx(screw.thread_diameter / 2, abs=2e-3)
    crest = depth[shaft & (radius > screw.shank_diameter / 2 + 0.1)]
    assert crest.min() == pytest.approx(28.5, abs=screw.pitch)
    assert crest.max() == pytest.approx(60.5, abs=screw.pitch)


def test_washer_is_a_closed_ring_of_its_volume(washered, catalogue):
    washer = catalogue.washers["13.0"]
    solid = washer_solid(washered, washer)
    assert solid.is_volume
    area = np.pi / 4 * (washer.outer_diameter**2 - washer.inner_diameter**2)
    assert solid.volume == pytest.approx(POLYGON * area * washer.thickness)


@pytest.mark.parametrize("ending", ["stl", "ply", "obj"])
@pytest.mark.parametrize("unit", ["mm", "m"])
def test_screws_are_read_back_closed_and_in_place(
    record, washered, plan, catalogue, tmp_path, ending, unit
):
    path = tmp_path / f"screws.{ending}"
    assert export_screws(plan(record(**DRILLS), washered), catalogue, path, unit) == ()
    scale = {"mm": 1.0, "m": 1000.0}[unit]
    found = solids(path)
    assert len(found) == 3  # two screws, one washer
    assert all(part.is_watertight for part in found)
    low, high = np.array([part.bounds * scale for part in found]).transpose(1, 0, 2)
    tip = np.array(DRILLS["entry"]) + 28.5 * np.array(DRILLS["direction"])
    assert (np.abs(high[:, 2] - tip[2]) < 0.8).any()  # the tip is as wide as its slant
    assert low[:, 1].max() == pytest.approx(220.0 - 4.0, abs=0.05)  # half a head
    if ending == "obj":
        names = [line for line in path.read_text().splitlines() if line.startswith("o ")]
        assert names == ["o screw_1", "o screw_2", "o screw_2_washer"]


def test_our_own_reader_finds_the_exported_solids_closed(record, plan, catalogue, tmp_path):
    export_screws(plan(record(**DRILLS)), catalogue, tmp_path / "screws.stl", "cm")
    audit = make_bone(read_surface(tmp_path / "screws.stl", "cm")).audit
    assert audit.closed
    assert audit.bodies == 1
    assert audit.inverted == 0


def test_drills_are_cylinders_as_wide_and_deep_as_planned(record, plan, tmp_path):
    made = record(**DRILLS)
    assert export_drills(plan(made), tmp_path / "drills.stl") == ()
    gliding, thread = sorted(solids(tmp_path / "drills.stl"), key=lambda part: -part.volume)
    for part, hole in ((gliding, made.gliding_hole), (thread, made.thread_hole)):
        assert part.is_watertight
        area = POLYGON * np.pi / 4 * hole.diameter**2
        assert part.volume == pytest.approx(area * (hole.end - hole.start), rel=1e-4)
        depth = (part.vertices - np.array(made.entry)) @ np.array(made.direction)
        assert depth.min() == pytest.approx(hole.start, abs=1e-3)
        assert depth.max() == pytest.approx(hole.end, abs=1e-3)


def test_what_cannot_be_exported_is_said(record, plan, catalogue, tmp_path):
    misses = record("screw 2", entry=None, exit=None, length=None)
    made = plan(record(), misses)
    (left,) = export_screws(made, catalogue, tmp_path / "s.stl")
    assert left.startswith("screw 2 is left out")
    said = export_drills(made, tmp_path / "d.stl")
    assert [sentence[:7] for sentence in said] == [
        "screw 1",
        "screw 2",
    ]  # screw 1 has no thread hole either


@pytest.mark.parametrize("ending", ["stl", "ply", "obj"])
def test_unit_and_cautions_travel_with_a_mesh(record, plan, catalogue, tmp_path, ending):
    path = tmp_path / f"s.{ending}"
    export_screws(plan(record()), catalogue, path, "inch")
    head = path.read_bytes()[: 80 if ending == "stl" else 1000]
    assert b"coordinates in inch. Planning aid for trained people" in head
    assert not head.startswith(b"solid")
    assert ending == "stl" or b"Not a medical device" in head


@pytest.mark.parametrize("name", ["s.step", "s", "nowhere/s.stl"])
def test_meshes_that_cannot_be_written(record, plan, catalogue, tmp_path, name):
    with pytest.raises(OutputError):
        export_screws(plan(record()), catalogue, tmp_path / name)
    with pytest.raises(OutputError):
        export_drills(plan(record()), tmp_path / name)
    with pytest.raises(OutputError):
        export_scene([], tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_nothing_to_write_is_an_error(record, plan, catalogue, tmp_path):
    empty = plan(record(entry=None, exit=None))
    for write in (
        lambda: export_screws(empty, catalogue, tmp_path / "s.stl"),
        lambda: export_drills(empty, tmp_path / "s.stl"),
        lambda: export_scene([], tmp_path / "s.glb"),
    ):
        with pytest.raises(OutputError, match=r"holds nothing|has no"):
            write()


def test_scene_keeps_names_colours_and_is_in_metres(bone, plan, record, catalogue, tmp_path):
    items = scene(bone, plan(record(), record("screw 2")), catalogue)
    export_scene(items, tmp_path / "s.glb")
    read = trimesh.load_scene(tmp_path / "s.glb")
    drawn = {item.name: item for item in items if item.role != "label"}
    assert set(read.geometry) == set(drawn)
    low, high = read.bounds
    assert (high - low)[2] == pytest.approx(0.130)  # the tube is 130 mm long
    for name, mesh in read.geometry.items():
        if drawn[name].faces is None:
            continue
        red, green, blue, alpha = mesh.visual.material.baseColorFactor
        assert f"#{red:02x}{green:02x}{blue:02x}" == drawn[name].colour
        assert alpha == pytest.approx(255 * drawn[name].opacity, abs=1)
        assert len(mesh.faces) == len(drawn[name].faces)
    assert "Not a medical device" in read.metadata["cautions"]


def test_axes_read_back_give_the_same_depths(tmp_path):
    case = read_case(Path(trajplan.__file__).parents[1] / "meshes" / "shaft.toml")
    made = plan_record(plan_case(case))
    write_axes(tmp_path / "axes.csv", axes_table(made), "inch")
    again = plan_record(check_axes(case, read_axes(tmp_path / "axes.csv", "inch")))
    assert len(again.screws) == len(made.screws) > 1
    for one, other in zip(made.screws, again.screws, strict=True):
        assert (one.id, one.kind, one.technique, one.zone) == (
            other.id, other.kind, other.technique, other.zone,
        )  # fmt: skip
        for name in ("length", "gauge", "seat", "purchase", "tilt", "proud_tip"):
            assert getattr(other, name) == pytest.approx(getattr(one, name), abs=1e-4), name
        assert np.ravel(other.intervals) == pytest.approx(np.ravel(one.intervals), abs=1e-5)
        assert other.gliding_hole.end == pytest.approx(one.gliding_hole.end, abs=1e-5)


def test_axes_table_has_no_row_for_a_screw_that_misses(record, plan):
    table = axes_table(plan(record(), record("screw 2", entry=None, exit=None)))
    assert table.ids == ("screw 1",)
    assert table.start.tolist() == [[-13, 0, 0]]
    assert table.end.tolist() == [[13, 0, 0]]
    assert axes_table(plan(record(entry=None, exit=None))).start.shape == (0, 3)
