"""Many cases: dealt out to workers, handed back as they come."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.batch._bounds import check_memory_bound, within
from trajplan.batch._cluster import run_cluster
from trajplan.batch._find import find_jobs
from trajplan.batch._jobs import Job
from trajplan.batch._local import run_local
from trajplan.batch._outcome import trusted
from trajplan.batch._program import program_mark
from trajplan.batch._work import Orders
from trajplan.errors import OutputError
from trajplan.files import Case

if TYPE_CHECKING:
    from collections.abc import Generator, Iterable, Iterator, Sequence

    from trajplan.batch._outcome import Outcome

__all__ = ["batch", "cores", "kept_results", "run_jobs"]


def cores() -> int:
    """Cores that this process may use.

    Returns
    -------
    int
    """
    affinity = getattr(os, "sched_getaffinity", None)  # not on every system
    return len(affinity(0)) if affinity is not None else os.cpu_count() or 1


def batch(
    cases: str | Path | Case | Job | Iterable[str | Path | Case | Job],
    *,
    workers: int | None = None,
    cluster: str | None = None,
    out: str | Path | None = None,
    resume: bool = False,
    timeout: float | None = None,
    memory: float | None = None,
) -> Iterator[Outcome]:
    """Plan, or check, many cases.

    Parameters
    ----------
    cases : str, Path, Case, Job, or an iterable of these
        Case files, folders of them, patterns, manifests (CSV or TOML), cases in memory.
    workers : int, optional
        Worker processes; as many as there are cores by default. A script that starts them
        keeps its own work below ``if __name__ == "__main__":``, as `multiprocessing` asks.
    cluster : str, optional
        Address of a dask scheduler, or "local" to start one on this machine.
    out : str or Path, optional
        Folder for the files of each case; it may lie on a disk that all workers share. By
        default nothing is written, and each outcome holds its plan.
    resume : bool
        Take over what `out` holds already, where inputs and program are still the same.
    timeout : float, optional
        Seconds that a case may take.
    memory : float, optional
        MB (10**6 bytes) that a worker process may hold, looked at ten times a second; a bare
        one holds about 300. Linux, or ``cluster="local"``.

    Yields
    ------
    Outcome
        One for each case, as they are finished: in no certain order. A case that cannot be
        worked on has the status "failed" and says why; it stops no other.

    Raises
    ------
    InputError
        If nothing is there to be done, the workers cannot be had, or nothing more can be
        written.
    """
    jobs = find_jobs([cases] if isinstance(cases, str | Path | Case | Job) else cases)
    place = None if out is None else Path(out).absolute()
    kept = kept_results(jobs, place, timeout) if resume and place is not None else {}
    yield from kept.values()
    left = [job for job in jobs if job.id not in kept]
    yield from run_jobs(
        left, workers=workers, cluster=cluster, out=place, timeout=timeout, memory=memory
    )


def kept_results(
    jobs: Iterable[Job], out: Path, timeout: float | None = None
) -> dict[str, Outcome]:
    """Results of an earlier run that can still be trusted.

    Parameters
    ----------
    jobs : iterable of Job
    out : Path
        Output folder.
    timeout : float, optional
        Seconds for reading what one of them rests on; one that takes longer is not trusted.

    Returns
    -------
    dict
        Id -> Outcome.
    """
    program = program_mark()
    kept = {}
    for job in jobs:
        try:
            outcome = within(timeout, partial(trusted, job, out, program))
        except TimeoutError:
            continue
        if outcome is not None:
            kept[job.id] = outcome
    return kept


def run_jobs(
    jobs: Sequence[Job],
    *,
    workers: int | None = None,
    cluster: str | None = None,
    out: Path | None = None,
    timeout: float | None = None,
    memory: float | None = None,
) -> Generator[Outcome]:
    """Do jobs on workers; see `batch`.

    Parameters
    ----------
    jobs : sequence of Job
    workers, cluster, out, timeout, memory
        See `batch`.

    Yields
    ------
    Outcome

    Raises
    ------
    InputError
        See `batch`.
    """
    if not jobs:
        return
    check_memory_bound(memory, cluster)
    many = workers or cores()
    share = max(1, cores() // many) if cluster in {None, "local"} else 1
    orders = Orders(out, timeout, memory, share, program_mark())
    outcomes = (
        run_local(jobs, many, orders)
        if cluster is None
        else run_cluster(jobs, cluster, many, orders)
    )
    for outcome in outcomes:
        yield outcome
        if outcome.stop:
            raise OutputError(
                f"nothing more can be written ({outcome.error})",
                remedy="free some room, then go on with --resume",
                file=out,
            )
