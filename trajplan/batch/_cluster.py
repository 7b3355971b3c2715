"""Workers of a dask cluster, on this machine or on many."""

from __future__ import annotations

import logging
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from trajplan.batch._queue import Queue
from trajplan.batch._work import Orders, do, failed
from trajplan.errors import WorkerError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trajplan.batch._jobs import Job
    from trajplan.batch._outcome import Outcome

__all__ = ["run_cluster"]

#: Jobs handed to the scheduler for each worker: one under way, one waiting. More would only
#: fill the scheduler's memory, and take jobs from workers that join later.
AHEAD = 2
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
        What holds for every case.

    Yields
    ------
    Outcome
        As they come.

    Raises
    ------
    WorkerError
        If dask is missing, or the scheduler cannot be reached or is lost.
    """
    queue = Queue(jobs)
    with _client(address, workers) as client:
        running = _dask().as_completed(loop=client.loop)
        waiting: dict[str, Job] = {}
        last: Job | None = None

        def fill() -> None:
            nonlocal last
            room = AHEAD * max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
            while len(waiting) < room and (job := queue.take(last)) is not None:
                last = job
                future = client.submit(do, job, orders, key=f"trajplan-{job.id}", pure=False)
                waiting[future.key] = job
                running.add(future)

        fill()
        for future in running:
            outcome = _outcome(future, waiting.pop(future.key))
            fill()
            yield outcome


def _outcome(future: Any, job: Job) -> Outcome:  # noqa: ANN401 - dask states no types
    """Take what a future holds; the scheduler has tried again already where a worker died."""
    outcome: Outcome
    try:
        outcome = future.result()
    except _dask().KilledWorker:
        return failed(
            job,
            "the worker died at this case each time it was tried, of its limit of time or for "
            "want of memory; allow more, or run it alone",
        )
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
        raise WorkerError(
            "dask is not installed", remedy='install the extra: pip install "trajplan[cluster]"'
        ) from None
    return distributed


@contextmanager
def _client(address: str, workers: int) -> Iterator[Any]:
    distributed = _dask()
    if address == "local":
        with (
            distributed.LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                dashboard_address=None,
                memory_limit=0,
                silence_logs=logging.CRITICAL,
            ) as cluster,
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
