"""What is to be done: one job a case, found from files, folders, patterns and manifests."""

from __future__ import annotations

import glob
import os
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trajplan.errors import CaseError
from trajplan.files import Case, read_case
from trajplan.implants import parse_toml, read_bytes
from trajplan.outside import file_id, is_folder, real_path, regular_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

__all__ = ["Job", "common_folder", "named_once", "toml_files", "with_names"]


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """One case to be planned, or whose axes are to be checked."""

    id: str  # names its folder among the results
    case: Path | Case | None  # None where not even that is known
    changes: Mapping[str, Any] = field(default_factory=dict)  # keys of the case that differ
    axes: Path | None = None  # to be checked, instead of planning
    trouble: str = ""  # why it cannot be done; empty: nothing is known against it

    def read(self) -> Case:
        """Read the case with its changes.

        Returns
        -------
        Case

        Raises
        ------
        CaseError
            If it cannot be read.
        """
        if isinstance(self.case, Case):
            return self.case
        if self.case is None:
            raise CaseError("no case is known for it", remedy="name one")
        return read_case(self.case, self.changes)


def toml_files(word: str | Path) -> list[Path]:
    """Files that a word of the command line stands for.

    Parameters
    ----------
    word : str or Path
        A file, a folder (every TOML file below it), or a pattern such as ``bones/*/case.toml``.

    Returns
    -------
    list of Path
        Sorted, for a folder or a pattern.

    Raises
    ------
    CaseError
        If it stands for nothing, or for a pipe or a device.
    """
    path = Path(word)
    if is_folder(path):
        found = sorted(path.rglob("*.toml"))
    elif glob.has_magic(str(word)) and file_id(path) is None:
        # `Path.glob` takes no absolute pattern
        names = sorted(glob.glob(str(word), recursive=True))  # noqa: PTH207
        found = [file for name in names for file in toml_files(name)]
    else:
        regular_file(path, CaseError)
        return [path]
    if not found:
        raise CaseError("no case was found here", remedy="name case files (TOML)", file=path)
    return found


def named_once(files: Iterable[Path]) -> list[Path]:
    """Leave out files that were named before.

    Parameters
    ----------
    files : iterable of Path

    Returns
    -------
    list of Path
        In the order given.
    """
    first: dict[Path, Path] = {}
    for file in files:
        first.setdefault(real_path(file), file)
    return list(first.values())


def common_folder(files: Iterable[Path]) -> Path:
    """Deepest folder that holds all files.

    Parameters
    ----------
    files : iterable of Path
        At least one.

    Returns
    -------
    Path
        Absolute.
    """
    return Path(os.path.commonpath([real_path(file).parent for file in files]))


def with_names(jobs: Iterable[Job]) -> Iterator[Job]:
    """Refuse jobs whose name was taken before.

    Parameters
    ----------
    jobs : iterable of Job

    Yields
    ------
    Job
        The later ones of a name get another one, and a trouble that says so.
    """
    # Case-folded: some file systems take A and a for the same folder.
    taken: Counter[str] = Counter()
    for job in jobs:
        taken[job.id.casefold()] += 1
        count = taken[job.id.casefold()]
        if count == 1:
            yield job
            continue
        name = f"{job.id}~{count}"
        taken[name.casefold()] += 1
        trouble = f'the name "{job.id}" is taken by an earlier case; give it a name of its own'
        yield replace(job, id=name, trouble=job.trouble or trouble)


def is_manifest(path: Path) -> bool:
    """Whether a TOML file lists cases, rather than being one.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
        False for a file that cannot be read: whoever reads it as a case says why.
    """
    try:
        data = parse_toml(read_bytes(path, CaseError), path, CaseError)
    except CaseError:
        return False
    return "row" in data or "base" in data
