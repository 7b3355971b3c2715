"""Jobs are dealt out bone by bone, each exactly once."""

from pathlib import Path

from trajplan.batch import Job
from trajplan.batch._queue import Queue


def jobs(*bones):
    return [
        Job(str(i), Path("base.toml"), {"bone": {"mesh": bone}}) for i, bone in enumerate(bones)
    ]


def taken(queue, last=None):
    while (last := queue.take(last)) is not None:
        yield last.id


def test_a_worker_goes_on_with_its_bone():
    assert list(taken(Queue(jobs("a", "b", "a", "b", "a")))) == ["0", "2", "4", "1", "3"]


def test_workers_begin_with_bones_of_their_own_and_help_in_the_end():
    queue = Queue(jobs("a", "a", "a", "b"))
    one, two = queue.take(None), queue.take(None)
    assert (one.id, two.id) == ("0", "3")
    assert queue.take(two).id == "1"  # its own bone is done
    assert queue.take(one).id == "2"
    assert (queue.take(one), len(queue)) == (None, 0)


def test_a_job_that_is_put_back_comes_again():
    queue = Queue(jobs("a", "b"))
    first = queue.take(None)
    queue.put_back(first)
    assert len(queue) == 2
    assert sorted(taken(queue)) == ["0", "1"]
