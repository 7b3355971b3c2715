"""Jobs are dealt out bone by bone, each exactly once."""

import threading

import pytest
from batch_cases import case_text
from mesh_files import write

from trajplan.batch import Job
from trajplan.batch._queue import Queue


@pytest.fixture
def jobs(tmp_path):
    """Jobs on bones, by their names; no mesh is there, for none is read."""

    def _jobs(*bones):
        base = write(tmp_path / "base.toml", case_text("base", "none.stl", 20))
        return [Job(str(i), base, {"bone": {"mesh": bone}}) for i, bone in enumerate(bones)]

    return _jobs


def taken(queue, last=None):
    while (last := queue.take(last)) is not None:
        yield last.id


def test_a_worker_goes_on_with_its_bone(jobs):
    assert list(taken(Queue(jobs("a", "b", "a", "b", "a")))) == ["0", "2", "4", "1", "3"]


def test_workers_begin_with_bones_of_their_own_and_help_in_the_end(jobs):
    queue = Queue(jobs("a", "a", "a", "b"))
    one, two = queue.take(None), queue.take(None)
    assert (one.id, two.id) == ("0", "3")
    assert queue.take(two).id == "1"  # its own bone is done
    assert queue.take(one).id == "2"
    assert (queue.take(one), len(queue)) == (None, 0)


def test_a_job_that_is_put_back_comes_again(jobs):
    queue = Queue(jobs("a", "b"))
    first = queue.take(None)
    queue.put_back(first)
    assert len(queue) == 2
    assert sorted(taken(queue)) == ["0", "1"]


def test_case_files_that_name_one_mesh_go_together(tmp_path):
    """Wherever the files lie, and whatever another one is wrong with."""
    (tmp_path / "sub").mkdir()
    names = [("a", "bone.stl"), ("b", "other.stl"), ("sub/c", "../bone.stl"), ("d", "other.stl")]
    files = [write(tmp_path / f"{n}.toml", case_text(n, mesh, 20)) for n, mesh in names]
    files.insert(2, write(tmp_path / "broken.toml", "no case"))
    nul = [Job("nul", files[0], {"bone": {"mesh": "\0"}}), Job("no file", tmp_path / "\0")]
    queue = Queue([*(Job(file.stem, file) for file in files), *nul])
    assert list(taken(queue)) == ["a", "c", "b", "d", "broken", "nul", "no file"]


def test_another_repair_is_another_bone(tmp_path):
    base = write(tmp_path / "base.toml", case_text("base", "bone.stl", 20))
    repairs = [(), ("holes",), (), ("holes",)]
    work = [Job(str(i), base, {"bone": {"repair": list(r)}}) for i, r in enumerate(repairs)]
    assert list(taken(Queue(work))) == ["0", "2", "1", "3"]


def test_a_case_that_cannot_be_read_in_time_keeps_no_other_waiting(jobs):
    class Late:
        id = "late"

        def read(self):
            threading.Event().wait()  # as on a disk that does not answer

    (other,) = jobs("a")
    assert sorted(taken(Queue([Late(), other], 0.1))) == ["0", "late"]
