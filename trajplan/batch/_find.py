"""From what was named on the command line, or handed over, to jobs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trajplan.batch._jobs import (
    Job,
    common_folder,
    is_manifest,
    named_once,
    toml_files,
    with_names,
)
from trajplan.batch._manifest import read_manifest
from trajplan.errors import CaseError
from trajplan.files import Case
from trajplan.outside import real_path

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["find_jobs"]


def find_jobs(cases: Iterable[str | Path | Case | Job]) -> list[Job]:
    """Find the jobs that are meant.

    Parameters
    ----------
    cases : iterable of str, Path, Case or Job
        Case files, folders of them, patterns, manifests (CSV or TOML), cases in memory.

    Returns
    -------
    list of Job
        In the order given, each name once; case files are named after their path below the
        folder that holds them all, a file that is named twice comes once.

    Raises
    ------
    InputError
        If nothing is there, or a manifest as a whole cannot be used. What is wrong with one
        case or one row is found when that job is done.
    """
    parts = [_spread(case) for case in cases]
    files = named_once(item for part in parts for item in part if isinstance(item, Path))
    manifests = {file for file in files if file.suffix.lower() == ".csv" or is_manifest(file)}
    plain = [file for file in files if file not in manifests]
    root = common_folder(plain) if plain else Path()
    jobs: list[Job] = []
    left = set(files)
    for number, item in enumerate((item for part in parts for item in part), start=1):
        if isinstance(item, Path):
            if item in left:
                left.remove(item)
                jobs += read_manifest(item) if item in manifests else [_of_file(item, root)]
        else:
            jobs.append(item if isinstance(item, Job) else _of_case(item, number))
    if not jobs:
        raise CaseError("no case was given", remedy="name case files, folders or a manifest")
    return list(with_names(jobs))


def _spread(case: str | Path | Case | Job) -> list[Path | Case | Job]:
    if isinstance(case, Case | Job):
        return [case]
    return [file.absolute() for file in toml_files(case)]


def _of_file(file: Path, root: Path) -> Job:
    return Job(real_path(file).relative_to(root).with_suffix("").as_posix(), file)


def _of_case(case: Case, number: int) -> Job:
    if case.sha256:
        return Job(case.file.stem, case)
    return Job(f"case-{number:04d}", case)
