"""Worker processes on this machine, each its own executor, so that a death has one owner."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections import Counter
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from multiprocessing.connection import wait as wait_for
from typing import TYPE_CHECKING, Any

from trajplan.batch._bounds import memory_of
from trajplan.batch._queue import Queue
from trajplan.batch._work import Orders, do, failed, not_started

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.batch._jobs import Job
    from trajplan.batch._outcome import Outcome

__all__ = ["run_local"]

#: Times that a case is begun: once more after its worker died, for the death may be none of
#: its doing.
TRIES = 2
#: Seconds between two looks at the memory of the workers, where it is bounded.
LOOK = 0.1
#: Workers that may die one after the other while they start, before the run gives up.
FAILED_STARTS = 3


def run_local(jobs: Iterable[Job], workers: int, orders: Orders) -> Iterator[Outcome]:
    """Do jobs in worker processes.

    Parameters
    ----------
    jobs : iterable of Job
    workers : int
        Processes.
    orders : Orders

    Yields
    ------
    Outcome

    Raises
    ------
    WorkerError
        If worker processes do not start.
    """
    queue = Queue(jobs, orders.timeout)
    run = _Run(queue, orders)
    lanes = [_Lane() for _ in range(min(workers, len(queue)))]
    try:
        for lane in lanes:
            run.start(lane)
        while run.busy:
            yield from run.gather()
    finally:
        for lane in lanes:
            lane.stop(kill=True)


class _Lane:
    """One worker process."""

    def __init__(self) -> None:
        self.executor: ProcessPoolExecutor | None = None
        self.pid: int | None = None
        self.job: Job | None = None
        self.begun = 0.0
        self.greedy = False  # ended for the memory that it held

    def start(self) -> Future[int]:
        """Start a process; the future is its id, and tells that it is ready."""
        self.pid = None
        self.executor = ProcessPoolExecutor(
            1, mp_context=multiprocessing.get_context("spawn"), initializer=_begin
        )
        return self.executor.submit(os.getpid)

    def give(self, job: Job, orders: Orders) -> Future[Outcome]:
        """Hand over a job."""
        assert self.executor is not None
        self.job, self.begun, self.greedy = job, time.monotonic(), False
        return self.executor.submit(do, job, orders)

    def stop(self, *, kill: bool = False) -> None:
        """End the process; at once, if asked to: files are written whole or not at all."""
        if self.executor is None:
            return
        if kill:
            self.kill()
        self.executor.shutdown(wait=True, cancel_futures=True)
        self.executor = self.pid = None

    def kill(self) -> None:
        """End the process at once."""
        if self.pid is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGTERM)


class _Run:
    """What is under way."""

    def __init__(self, queue: Queue, orders: Orders) -> None:
        self.busy: dict[Future[Any], _Lane] = {}
        self._queue, self._orders = queue, orders
        self._deaths: Counter[str] = Counter()
        self._failed_starts = 0

    def start(self, lane: _Lane) -> None:
        """Start the process of a lane."""
        self.busy[lane.start()] = lane

    def gather(self) -> Iterator[Outcome]:
        """Wait for something to happen; deal out what follows before anything is yielded."""
        memory = self._orders.memory
        ready, _ = wait(self.busy, None if memory is None else LOOK, return_when=FIRST_COMPLETED)
        if memory is not None:
            self._end_greedy(memory)
        outcomes = [self._come(future, self.busy.pop(future)) for future in ready]
        yield from (outcome for outcome in outcomes if outcome is not None)

    def _end_greedy(self, memory: float) -> None:
        for lane in self.busy.values():
            if lane.job is not None and lane.pid is not None and memory_of(lane.pid) > memory:
                lane.greedy = True
                lane.kill()

    def _come(self, future: Future[Any], lane: _Lane) -> Outcome | None:
        try:
            answer = future.result()
        except BrokenProcessPool:
            return self._death(lane)
        if isinstance(answer, int):
            lane.pid, self._failed_starts = answer, 0
            outcome = None
        else:
            outcome = answer
        self._next(lane)
        return outcome

    def _next(self, lane: _Lane) -> None:
        job = self._queue.take(lane.job)
        if job is None:
            lane.stop()
        else:
            self.busy[lane.give(job, self._orders)] = lane

    def _death(self, lane: _Lane) -> Outcome | None:
        """Replace a worker that died, and judge what it was at."""
        outcome = None
        if lane.pid is None:
            self._failed_start()
        elif lane.job is not None:
            outcome = self._judged(lane, lane.job)
        lane.stop()
        lane.job = None
        if len(self._queue):
            self.start(lane)
        return outcome

    def _failed_start(self) -> None:
        self._failed_starts += 1
        if self._failed_starts >= FAILED_STARTS:
            raise not_started()

    def _judged(self, lane: _Lane, job: Job) -> Outcome | None:
        """Say why a worker died at a job; None: try once more."""
        taken = time.monotonic() - lane.begun
        memory, timeout = self._orders.memory, self._orders.timeout
        self._deaths[job.id] += 1
        if lane.greedy:
            why = f"it needs more memory than the {memory:g} MB allowed; allow more"
        elif timeout is not None and taken >= timeout:
            why = f"it took longer than the {timeout:g} s allowed; allow more"
        elif self._deaths[job.id] < TRIES:
            self._queue.put_back(job)
            return None
        else:
            why = (
                f"the worker process died {TRIES} times at this case, perhaps for want of "
                "memory; run it alone, or on a machine with more"
            )
        return replace(failed(job, why), seconds=round(taken, 3))


def _begin() -> None:
    """Prepare a worker process."""
    # The run decides what Ctrl-C means; a worker that died of it would look broken.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however it went."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait_for([parent.sentinel])
        os._exit(1)
