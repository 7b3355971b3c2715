"""The order in which jobs are dealt out: bone by bone, so that a worker builds each once."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from trajplan.batch._bounds import within
from trajplan.outside import real_path

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trajplan.batch._jobs import Job

__all__ = ["Queue"]


class Queue:
    """Jobs waiting, in groups that are likely to share a bone.

    Parameters
    ----------
    jobs : iterable of Job
        In the order given. Results do not depend on the order in which they are dealt out.
    seconds : float, optional
        Bound on reading one of them here; a later one is a group of its own.
    """

    def __init__(self, jobs: Iterable[Job], seconds: float | None = None) -> None:
        self._groups: dict[object, deque[Job]] = {}
        self._bones: dict[str, object] = {}  # id of a job -> bone, read once
        for job in jobs:
            bone = self._bones[job.id] = _bone(job, seconds)
            self._groups.setdefault(bone, deque()).append(job)
        self._free = deque(self._groups)  # bones that no worker has begun

    def __len__(self) -> int:
        return sum(len(group) for group in self._groups.values())

    def take(self, last: Job | None) -> Job | None:
        """Next job for a worker.

        Parameters
        ----------
        last : Job or None
            What it did before: it goes on with that bone, then takes a bone that nobody has
            begun, and in the end helps where most is left.

        Returns
        -------
        Job or None
            None when nothing is left.
        """
        if not self._groups:
            return None
        bone = self._bones[last.id] if last is not None else None
        if bone not in self._groups:
            bone = self._next_bone()
        group = self._groups[bone]
        job = group.popleft()
        if not group:
            del self._groups[bone]
        return job

    def put_back(self, job: Job) -> None:
        """Have a job done again.

        Parameters
        ----------
        job : Job
        """
        self._groups.setdefault(self._bones[job.id], deque()).appendleft(job)

    def _next_bone(self) -> object:
        while self._free:
            bone = self._free.popleft()
            if bone in self._groups:
                return bone
        return max(self._groups, key=lambda bone: len(self._groups[bone]))


def _bone(job: Job, seconds: float | None) -> object:
    """What tells bones apart without reading a mesh: their files, and what is done to them."""
    try:
        case = within(seconds, job.read)
        paths = tuple(real_path(case.resolve(path)) for path in case.bone.paths)
    except Exception:  # noqa: BLE001 - one broken case never stops the rest; told when it is done
        return job.id
    return paths, case.unit, case.bone.repair, case.fracture.group
