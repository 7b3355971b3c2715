"""Bounds on what one case may take of the process that works on it."""

from __future__ import annotations

import faulthandler
import os
import sys
import threading
from concurrent.futures import Future
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from trajplan.errors import WorkerError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["check_memory_bound", "memory_of", "threads_bound", "time_bound", "within"]

T = TypeVar("T")

#: MB below which a worker would die before it gets to its first case: libraries and compiled
#: code take about 300 (measured on Linux).
LEAST_MEMORY = 400.0


@contextmanager
def time_bound(seconds: float | None) -> Iterator[None]:
    """End this process if what is done inside takes longer.

    Parameters
    ----------
    seconds : float or None
        None: no bound.

    Notes
    -----
    The standard library's watchdog thread: it needs no interpreter lock, so compiled code
    that hangs is ended too. Whoever gave the case out sees the process gone and says why.
    """
    if seconds is None:
        yield
        return
    with open(os.devnull, "w", encoding="utf-8") as nowhere:  # noqa: PTH123 - no path of ours
        faulthandler.dump_traceback_later(seconds, exit=True, file=nowhere)
        try:
            yield
        finally:
            faulthandler.cancel_dump_traceback_later()


def within(seconds: float | None, work: Callable[[], T]) -> T:
    """What work comes to, unless it takes longer than that.

    Parameters
    ----------
    seconds : float or None
        None: no bound.
    work : callable
        Reads files, perhaps from a disk that does not answer; it is left to itself if it is late.

    Returns
    -------
    T

    Raises
    ------
    TimeoutError
        If it takes longer.
    """
    if seconds is None:
        return work()
    found: Future[T] = Future()

    def run() -> None:
        try:
            found.set_result(work())
        except BaseException as error:  # noqa: BLE001 - handed over to whoever waits
            found.set_exception(error)

    threading.Thread(target=run, daemon=True).start()
    return found.result(seconds)


def check_memory_bound(megabytes: float | None, cluster: str | None) -> None:
    """Refuse a bound on memory where it cannot be kept.

    Parameters
    ----------
    megabytes : float or None
    cluster : str or None
        As in `trajplan.batch.batch`.

    Raises
    ------
    WorkerError
        If there is a bound, and it is below what a worker holds before it begins, this is not
        Linux, or the workers were started elsewhere.
    """
    if megabytes is None:
        return
    if megabytes < LEAST_MEMORY:
        raise WorkerError(
            f"{megabytes:g} MB are too few: a worker holds much of that before it begins",
            remedy=f"allow {LEAST_MEMORY:g} MB or more",
        )
    if cluster == "local":
        return
    if cluster is not None:
        raise WorkerError(
            "the memory of workers that were started elsewhere cannot be bounded from here",
            remedy="leave --memory out, and start them with `dask worker --memory-limit`",
        )
    if not sys.platform.startswith("linux"):
        raise WorkerError(
            "the memory of worker processes can be bounded on Linux only",
            remedy="leave --memory out, or write --cluster local",
        )


def memory_of(pid: int) -> float:
    """Memory that a process holds, of Linux's own books (proc(5): statm, second field).

    Parameters
    ----------
    pid : int

    Returns
    -------
    float
        MB (10**6 bytes); 0 for a process that is gone.
    """
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    except (OSError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@contextmanager
def threads_bound(count: int) -> Iterator[None]:
    """Use so many cores in compiled loops, so that workers do not fight for them.

    Parameters
    ----------
    count : int
        1 or more; more than there are is all of them.
    """
    # libigl reads it when it first runs
    os.environ.setdefault("IGL_NUM_THREADS", str(count))
    if find_spec("numba") is None:
        yield
        return
    import numba

    before = numba.get_num_threads()
    numba.set_num_threads(min(count, numba.config.NUMBA_NUM_THREADS))
    try:
        yield
    finally:
        numba.set_num_threads(before)
