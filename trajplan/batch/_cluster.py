"""Workers of a dask cluster, on this machine or on many."""

from __future__ import annotations

import logging
from collections import deque
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from trajplan.batch._queue import Queue
from trajplan.batch._work import Orders, do, failed, not_started
from trajplan.errors import WorkerError, install

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.batch._jobs import Job
    from trajplan.batch._outcome import Outcome

__all__ = ["run_cluster"]

#: What is said of a case whose worker died with nothing else in hand.
DEATH = (
    "the worker died at this case each time it was tried, of its limit of time or for want of "
    "memory; allow more, or run it alone"
)
#: Seconds to wait for the scheduler.
PATIENCE = 30


def run_cluster(
    jobs: Iterable[Job], address: str, workers: int, orders: Orders
) -> Iterator[Outcome]:
    """Do jobs on a dask cluster.

    Parameters
    ----------
    jobs : iterable of Job
    address : str
        Of a scheduler, such as ``tcp://host:8786``, or ``local`` to start one here.
    workers : int
        Processes of a cluster started here.
    orders : Orders

    Yields
    ------
    Outcome

    Raises
    ------
    WorkerError
        If dask is missing, workers do not start here, or the scheduler cannot be reached or is
        lost.
    """
    with _client(address, workers, orders.memory) as client:
        yield from _Run(client, Queue(jobs, orders.timeout), orders).outcomes()


class _Run:
    """What is under way."""

    def __init__(self, client: Any, queue: Queue, orders: Orders) -> None:  # noqa: ANN401 - dask states no types
        self._client, self._queue, self._orders = client, queue, orders
        self._running = _dask().as_completed(loop=client.loop)
        self._waiting: dict[str, Job] = {}
        self._last: Job | None = None
        self._suspects: deque[Job] = deque()
        self._alone = False  # the others are done: suspects are tried, one at a time

    def outcomes(self) -> Iterator[Outcome]:
        """Outcomes as they come."""
        self._fill()
        for future in self._running:
            outcome = self._outcome(future, self._waiting.pop(future.key))
            self._fill()
            if outcome is not None:
                yield outcome

    def _fill(self) -> None:
        """Hand out a job for each worker; more would only be blamed when that worker dies."""
        workers = self._client.scheduler_info(n_workers=-1)["workers"]
        while len(self._waiting) < max(1, len(workers)):
            job = self._queue.take(self._last)
            if job is None:
                break
            self._submit(job)
        if not self._waiting and self._suspects:
            self._alone = True
            self._submit(self._suspects.popleft())

    def _submit(self, job: Job) -> None:
        key = f"trajplan-{job.id}-{int(self._alone)}"
        self._last = self._waiting[key] = job
        self._running.add(self._client.submit(do, job, self._orders, key=key, pure=False))

    def _outcome(self, future: Any, job: Job) -> Outcome | None:  # noqa: ANN401 - dask states no types
        """Take what a future holds; None: to be tried again."""
        outcome: Outcome
        try:
            outcome = future.result()
        except _dask().KilledWorker:
            if self._alone:
                return failed(job, DEATH)
            self._suspects.append(job)
            return None
        except (_dask().CancelledError, OSError) as error:
            raise WorkerError(
                f"the cluster was lost ({type(error).__name__})",
                remedy="what is finished is kept; start it again and go on with --resume",
            ) from error
        return outcome


def _dask() -> Any:  # noqa: ANN401 - dask states no types
    try:
        import distributed  # an extra, and slow to load
    except ImportError:
        raise WorkerError("dask is not installed", remedy=install("cluster")) from None
    return distributed


def _dask_settings() -> Any:  # noqa: ANN401 - dask states no types
    """Settings of a cluster of our own.

    The bound on memory ends a worker, nothing pauses it; pages, which ask for no certificate, are
    not served.
    """
    import dask

    short_of = {f"distributed.worker.memory.{word}": False for word in ("target", "spill", "pause")}
    return dask.config.set(
        {
            **short_of,
            "distributed.worker.memory.terminate": 1.0,
            "distributed.scheduler.allowed-failures": 0,  # we try again ourselves
            "distributed.scheduler.http.routes": [],
            "distributed.worker.http.routes": [],
        }
    )


@contextmanager
def _client(address: str, workers: int, memory: float | None) -> Iterator[Any]:
    distributed = _dask()
    if address == "local":
        with (
            _dask_settings(),
            _local_cluster(workers, memory) as cluster,
            distributed.Client(cluster) as client,
        ):
            yield client
        return
    try:
        client = distributed.Client(address, timeout=PATIENCE)
    except (OSError, ValueError) as error:
        raise WorkerError(
            f"no scheduler answers at {address} ({error})",
            remedy="start one with `dask scheduler`, or write --cluster local",
        ) from None
    with client:
        yield client


def _certificate() -> Any:  # noqa: ANN401 - dask states no types
    """A key and a certificate for this run alone, in memory: workers and client show them."""
    try:
        return _dask().Security.temporary()
    except ImportError:
        raise WorkerError(
            "a cluster on this machine needs the package cryptography",
            remedy=install("cluster"),
        ) from None


def _local_cluster(workers: int, memory: float | None) -> Any:  # noqa: ANN401 - dask states no types
    try:
        return _dask().LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            # whoever reaches a scheduler may run what they like on its workers: only those who
            # hold the certificate made for this run may (manual of distributed, "TLS/SSL")
            security=_certificate(),
            dashboard_address="127.0.0.1:0",  # a free port: another cluster may run here
            memory_limit=0 if memory is None else int(memory * 1e6),
            silence_logs=logging.CRITICAL,
        )
    except RuntimeError as error:
        raise not_started() from error
