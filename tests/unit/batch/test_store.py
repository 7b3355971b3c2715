"""A worker builds a bone once, and keeps few."""

from dataclasses import replace

import pytest
from batch_cases import case_text
from mesh_files import stl_bytes, write
from specimens import tube

from trajplan.batch import _store
from trajplan.bone import as_surface
from trajplan.files import read_case
from trajplan.planner import set_up


@pytest.fixture
def made(monkeypatch):
    """Bones that were really built."""
    built = []

    def make(parts, *, leave_out):
        built.append(tuple(leave_out))
        return object()

    monkeypatch.setattr(_store, "make_bone", make)
    return built


def parts(inner=9.0, scale=1.0):
    vertices, faces = tube(inner=inner)
    return [as_surface((scale * vertices, faces))]


def test_the_same_surfaces_are_the_same_bone(made):
    make = _store.BoneStore().make
    assert make(parts(), leave_out=()) is make(parts(), leave_out=())
    assert len(made) == 1


def test_another_mesh_or_group_is_another_bone(made):
    make = _store.BoneStore(room=9).make
    first = make(parts(), leave_out=())
    for inner, groups in [(8.0, ()), (9.0, ("fracture",))]:
        assert make(parts(inner), leave_out=groups) is not first
    assert len(made) == 3


@pytest.mark.parametrize("changed", ["vertices", "faces", "groups", "name"])
def test_what_was_done_to_a_surface_after_reading_makes_another_bone(made, changed):
    make = _store.BoneStore().make
    (part,) = parts()
    other = {"vertices": part.vertices * 10.0, "faces": part.faces[1:],
             "groups": {"fracture": part.faces[0]}, "name": "other"}[changed]  # fmt: skip
    make([part], leave_out=())
    make([replace(part, **{changed: other})], leave_out=())  # its sha256 is that of the file
    assert len(made) == 2


def test_a_repaired_bone_is_not_the_one_as_read(tmp_path):
    vertices, faces = tube(sides=24)
    torn = (vertices, faces[:-1])
    write(tmp_path / "bone.stl", stl_bytes(torn))
    case = case_text("torn", "bone.stl", 20)
    write(tmp_path / "case.toml", case)
    make = _store.BoneStore().make
    for changes in ({}, {"bone": {"repair": ["holes"]}}):
        known = read_case(tmp_path / "case.toml", changes)
        assert set_up(known, make=make).bone.audit.closed == bool(changes)


def test_the_bone_that_was_not_used_for_longest_goes(made):
    make = _store.BoneStore(room=2).make
    for inner in (9.0, 8.0, 9.0, 7.0, 9.0):
        make(parts(inner), leave_out=())
    assert len(made) == 3
    make(parts(8.0), leave_out=())
    assert len(made) == 4


def test_a_cleared_store_holds_nothing(made):
    store = _store.BoneStore()
    store.make(parts(), leave_out=())
    store.clear()
    store.make(parts(), leave_out=())
    assert len(made) == 2
