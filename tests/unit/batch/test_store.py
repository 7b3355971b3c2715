"""A worker builds a bone once, and keeps few."""

import pytest
from specimens import tube

from trajplan.batch import _store
from trajplan.bone import as_surface


@pytest.fixture
def made(monkeypatch):
    """Bones that were really built."""
    built = []

    def make(parts, *, leave_out):
        built.append(tuple(leave_out))
        return object()

    monkeypatch.setattr(_store, "make_bone", make)
    return built


def parts(inner=9.0):
    return [as_surface(tube(inner=inner))]


def test_the_same_files_are_the_same_bone(made):
    make = _store.BoneStore().maker("mm")
    assert make(parts(), leave_out=()) is make(parts(), leave_out=())
    assert len(made) == 1


def test_another_unit_file_or_group_is_another_bone(made):
    store = _store.BoneStore(room=9)
    first = store.maker("mm")(parts(), leave_out=())
    for unit, inner, groups in [("cm", 9.0, ()), ("mm", 8.0, ()), ("mm", 9.0, ("fracture",))]:
        assert store.maker(unit)(parts(inner), leave_out=groups) is not first
    assert len(made) == 4


def test_the_bone_that_was_not_used_for_longest_goes(made):
    make = _store.BoneStore(room=2).maker("mm")
    for inner in (9.0, 8.0, 9.0, 7.0, 9.0):
        make(parts(inner), leave_out=())
    assert len(made) == 3
    make(parts(8.0), leave_out=())
    assert len(made) == 4
