"""Bounds on what one case may take of the process that works on it."""

from __future__ import annotations

import faulthandler
import os
import sys
from contextlib import contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING

from trajplan.errors import WorkerError

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["check_memory_bound", "memory_bound", "threads_bound", "time_bound"]


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


def check_memory_bound(megabytes: float | None) -> None:
    """Refuse a bound on memory where the system cannot keep it.

    Parameters
    ----------
    megabytes : float or None

    Raises
    ------
    WorkerError
        If there is a bound and this is not Linux.
    """
    if megabytes is not None and not sys.platform.startswith("linux"):
        raise WorkerError(
            "the memory of a case can be bounded on Linux only", remedy="leave --memory out"
        )


@contextmanager
def memory_bound(megabytes: float | None) -> Iterator[None]:
    """Let allocations fail that go further beyond what the process has now.

    Parameters
    ----------
    megabytes : float or None
        10**6 bytes, of address space; None: no bound.
    """
    if megabytes is None:
        yield
        return
    import resource  # Linux only

    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    wanted = _address_space() + int(megabytes * 1e6)
    ceiling = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
    resource.setrlimit(resource.RLIMIT_AS, (ceiling, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


def _address_space() -> int:
    """Bytes of address space that the process has (proc(5), statm, first field)."""
    with open("/proc/self/statm", encoding="ascii") as statm:  # noqa: PTH123 - no path of ours
        return int(statm.read().split()[0]) * os.sysconf("SC_PAGE_SIZE")


@contextmanager
def threads_bound(count: int) -> Iterator[None]:
    """Use so many cores in compiled loops, so that workers do not fight for them.

    Parameters
    ----------
    count : int
        1 or more; more than there are is all of them.
    """
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
