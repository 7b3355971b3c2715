"""The work on one case; the same function in this process, in a worker, on a cluster."""

from __future__ import annotations

import atexit
import errno
import hashlib
import json
import os
import threading
import time
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.batch._bounds import threads_bound, time_bound
from trajplan.batch._inputs import fingerprints
from trajplan.batch._outcome import PLAN, RECEIPT, REPORT, SOURCE, Outcome, folder_of
from trajplan.batch._program import program_mark
from trajplan.batch._rows import case_row, finding_counts
from trajplan.batch._store import BoneStore
from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import CaseError, InputError, OutputError, TrajplanError, WorkerError
from trajplan.files import SCREW_COLUMNS, plan_json, read_axes, screw_rows, write_text_atomic
from trajplan.outside import real_path
from trajplan.planner import check_record, plan_case, plan_record
from trajplan.show import plan_text

if TYPE_CHECKING:
    from trajplan.batch._jobs import Job
    from trajplan.files import Case, PlanFile

__all__ = ["Orders", "do", "failed", "not_started"]

#: Trouble with the disk that will meet the next case as well.
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO)

#: Bones of this process.
_STORE = BoneStore()
# Before the interpreter ends: libraries complain of objects that outlive them.
atexit.register(_STORE.clear)
#: One case at a time in a process: a cluster's worker may run threads, but the bounds on
#: time and memory are the process's, and cores are better shared out between processes.
_TURN = threading.Lock()


@dataclass(frozen=True, slots=True)
class Orders:
    """What holds for every case of a run."""

    out: Path | None = None  # absolute; None: write nothing, hand the plan back
    timeout: float | None = None  # seconds for a case
    memory: float | None = None  # MB that a worker process may hold
    threads: int = 1  # cores that a case may use
    program: str = ""  # mark of the program that started the run; empty: any


def do(job: Job, orders: Orders) -> Outcome:
    """Plan or check one case and write its files.

    Parameters
    ----------
    job : Job
        The case.
    orders : Orders
        What holds for every case.

    Returns
    -------
    Outcome
        Whatever goes wrong with the case stands in it; nothing is raised.
    """
    with _TURN:
        begin = time.perf_counter()
        outcome = _guarded(job, orders, begin)
        return replace(outcome, seconds=outcome.seconds or _since(begin))


def _since(begin: float) -> float:
    return round(time.perf_counter() - begin, 3)


def failed(job: Job, error: str, *, stop: bool = False) -> Outcome:
    """Outcome of a case that could not be done.

    Parameters
    ----------
    job : Job
        The case.
    error : str
        What went wrong.
    stop : bool
        Whether it will meet every other case too.

    Returns
    -------
    Outcome
    """
    sentence = " ".join(error.split())
    row = {"case": job.id, "status": "failed", "error": sentence, "cautions_of_plan": CAUTION_TEXT}
    return Outcome(job.id, "failed", sentence, stop, program=program_mark(), row=row)


def not_started() -> WorkerError:
    """Error of worker processes that end before they are ready.

    Returns
    -------
    WorkerError
        A new process runs the script that started it once more, and has to find one.
    """
    return WorkerError(
        "worker processes die while they start",
        remedy='call it from a notebook or a file; in a file, below `if __name__ == "__main__":`',
    )


def _guarded(job: Job, orders: Orders, begin: float) -> Outcome:
    try:
        return _done(job, orders, begin)
    except InputError as error:
        cause = error.__cause__
        full = isinstance(cause, OSError) and cause.errno in NO_ROOM
        return failed(job, _sentence(error), stop=isinstance(error, OutputError) and full)
    except TrajplanError as error:
        return failed(job, f"{error}; check the numbers that were given")
    except MemoryError:
        return failed(job, "it needs more memory than there is; give a coarser mesh")
    except Exception as error:  # noqa: BLE001 - one broken case never stops the rest
        return failed(
            job, f"the program broke ({type(error).__name__}: {error}); a fault of the program"
        )


def _sentence(error: InputError) -> str:
    """Name the file without its folder, so that the words are the same on every machine."""
    name = None if error.file is None else Path(error.file).name
    place = ", ".join(part for part in (name, error.where) if part)
    return f"{place}: {error.found}; {error.remedy}" if place else f"{error.found}; {error.remedy}"


def _done(job: Job, orders: Orders, begin: float) -> Outcome:
    if job.trouble:
        raise CaseError(job.trouble, remedy="mend it and run again with --resume")
    if orders.program not in {"", program_mark()}:
        raise WorkerError(
            f"the worker runs trajplan {program_mark()}, the batch was started with "
            f"{orders.program}",
            remedy="install the same everywhere",
        )
    folder = None if orders.out is None else _emptied(folder_of(orders.out, job.id))
    with ExitStack() as bounds:
        bounds.enter_context(threads_bound(orders.threads))
        bounds.enter_context(time_bound(orders.timeout))
        case = job.read()
        before = fingerprints(case, job.axes)
        record = _record(case, job)
        if fingerprints(case, job.axes) != before:
            raise CaseError(
                "a file that it names changed while it was worked on",
                remedy="run again with --resume once nobody writes to it",
                file=case.file,
            )
    outcome = replace(_outcome(job, record, before), seconds=_since(begin))
    if folder is None:
        return outcome
    written = _write(folder, job, record, outcome)
    return replace(written, folder=str(folder), text=None)


def _record(case: Case, job: Job) -> PlanFile:
    if job.axes is None:
        return plan_record(plan_case(case, make=_STORE.make))
    return check_record(case, read_axes(job.axes, case.unit), make=_STORE.make)


def _outcome(job: Job, record: PlanFile, inputs: dict[str, str]) -> Outcome:
    rows = [{name: row.get(name) for name in SCREW_COLUMNS} for row in screw_rows(record)]
    return Outcome(
        id=job.id,
        status="done",
        program=program_mark(),
        inputs=inputs,
        row=case_row(job, record),
        screws=[{"case": job.id, **row} for row in rows],
        rules=finding_counts(record),
        text=plan_json(record),
    )


def _emptied(folder: Path) -> Path:
    """Make the folder of a case; what an earlier run left there is not this case's result."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        left = [folder / name for name in (RECEIPT, PLAN, REPORT, SOURCE)]
        for file in (*left, *folder.glob(".*.part")):
            file.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made ready ({error.strerror})",
            remedy="give another --out folder, on a disk with room",
            file=folder,
        ) from error
    return folder


def _write(folder: Path, job: Job, record: PlanFile, outcome: Outcome) -> Outcome:
    """Write the files of a case, and last the receipt that vouches for each of them."""
    texts = {PLAN: outcome.text or "", REPORT: plan_text(record) + "\n"}
    if isinstance(job.case, Path):
        source = {"case": Path(os.path.relpath(real_path(job.case), folder)).as_posix()}
        changes = {"changes": job.changes} if job.changes else {}
        texts[SOURCE] = json.dumps(source | changes, default=str) + "\n"
    for name, text in texts.items():
        write_text_atomic(folder / name, text)
    digests = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in texts.items()}
    outcome = replace(outcome, digests=digests)
    write_text_atomic(folder / RECEIPT, outcome.receipt())
    return outcome
