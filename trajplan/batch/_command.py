"""The body of the command `batch`: run, count, write tables and summary."""

from __future__ import annotations

import signal
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from trajplan.batch._batch import kept_results, run_jobs
from trajplan.batch._find import find_jobs
from trajplan.batch._outcome import CASES, Outcome
from trajplan.batch._page import summary_page
from trajplan.batch._program import program_mark
from trajplan.batch._progress import Progress
from trajplan.batch._summary import VERDICTS, Summary, summarize
from trajplan.batch._tables import TABLES, write_tables
from trajplan.errors import OutputError
from trajplan.files import claim, together, write_text_atomic
from trajplan.show import table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from trajplan.batch._jobs import Job

__all__ = ["BatchRun", "batch_text", "run_batch"]

SUMMARY = "summary.html"


@dataclass(frozen=True, slots=True, eq=False)
class BatchRun:
    """A batch that was run."""

    summary: Summary
    files: tuple[Path, ...]  # summary and tables

    @property
    def status(self) -> int:
        """Exit status: 2 some case could not be worked on, 1 some rule fails, 0 neither."""
        if self.summary.failed:
            return 2
        return 1 if self.summary.verdicts["fail"] else 0


def run_batch(
    inputs: Sequence[str | Path],
    out: Path,
    *,
    workers: int | None = None,
    cluster: str | None = None,
    resume: bool = False,
    timeout: float | None = None,
    memory: float | None = None,
    force: bool = False,
    stream: TextIO,
) -> BatchRun:
    """Run a batch into a folder, and tell of it on the way.

    Parameters
    ----------
    inputs : sequence of str or Path
        See `trajplan.batch.batch`.
    out : Path
        Folder for everything.
    workers, cluster, resume, timeout, memory
        See `trajplan.batch.batch`.
    force : bool
        Whether tables and summary may be written over files that trajplan did not write.
    stream : text stream
        For progress.

    Returns
    -------
    BatchRun

    Raises
    ------
    InputError
        See `trajplan.batch.batch`; also if the folder holds results and `resume` is not set.
    KeyboardInterrupt
        After tables and summary were written of what is finished.
    """
    jobs = find_jobs(inputs)
    if (out / CASES).exists() and not resume:
        raise OutputError(
            "this folder holds results of a batch",
            remedy="go on with it by --resume, or give another --out folder",
            file=out,
        )
    claim([out / name for name in (SUMMARY, *TABLES)], force=force)
    place = out.absolute()
    ends = kept_results(jobs, place, timeout) if resume else {}
    left = [job for job in jobs if job.id not in ends]
    progress = Progress(len(jobs), stream)
    progress.kept(len(ends))
    run = run_jobs(
        left, workers=workers, cluster=cluster, out=place, timeout=timeout, memory=memory
    )
    try:
        with _stopped_by_sigterm():
            for outcome in run:
                ends[outcome.id] = outcome
                progress.show(outcome)
    except BaseException:
        # What is finished stays finished, and is told; then the trouble goes its way.
        run.close()
        _try_to_hand_over(jobs, ends, place, force=force)
        raise
    finally:
        run.close()
        progress.close()
    return _hand_over(jobs, ends, out, force=force)


def batch_text(run: BatchRun) -> str:
    """What a batch came to, for a person at a terminal.

    Parameters
    ----------
    run : BatchRun

    Returns
    -------
    str
    """
    summary = run.summary
    verdicts = ", ".join(f"{count} {word}" for word, count in summary.verdicts.items())
    lines = [
        f"{summary.cases} cases: {summary.done} done, {len(summary.failed)} could not be worked on",
        f"Verdicts: {verdicts}",
    ]
    rules = [(rule, *(str(n) for n in times.values())) for rule, times in summary.rules.items()]
    if rules:
        lines += ["", table(("rule", *VERDICTS), rules)]
    if summary.tray:
        tray = ((name, str(count)) for name, count in summary.tray.items())
        lines += ["", table(("implant, whole batch", "count"), tray)]
    written = ", ".join(str(file) for file in run.files)
    return "\n".join([*lines, "", f"Written: {written}"])


def _hand_over(
    jobs: Sequence[Job], ends: dict[str, Outcome], out: Path, *, force: bool
) -> BatchRun:
    """Write tables and summary; rows stand in the order of the jobs."""
    outcomes = [ends.get(job.id) or _not_run(job) for job in jobs]
    summary = summarize(outcomes)
    page = out / SUMMARY
    with together(force=force):
        files = write_tables(out, outcomes)
        write_text_atomic(page, summary_page(summary, [file.name for file in files]))
    return BatchRun(summary, (page, *files))


def _try_to_hand_over(
    jobs: Sequence[Job], ends: dict[str, Outcome], out: Path, *, force: bool
) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
        # A worker may have finished a case that nobody took from it.
        rest = kept_results((job for job in jobs if job.id not in ends), out)
        _hand_over(jobs, ends | rest, out, force=force)
    except (OutputError, OSError):  # a full disk: the trouble on its way says so
        return


def _not_run(job: Job) -> Outcome:
    return Outcome(
        job.id,
        "not run",
        program=program_mark(),
        row={"case": job.id, "status": "not run"},
    )


@contextmanager
def _stopped_by_sigterm() -> Iterator[None]:
    """Let a polite request to end be as good as Ctrl-C; only the main thread may ask so."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
