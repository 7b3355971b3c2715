"""What became of one case, and the receipt that lets a later run trust it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from trajplan.batch._inputs import fingerprints
from trajplan.errors import TrajplanError
from trajplan.files import PlanFile, read_plan

if TYPE_CHECKING:
    from trajplan.batch._jobs import Job

__all__ = ["CASES", "PLAN", "RECEIPT", "REPORT", "SOURCE", "Outcome", "folder_of", "trusted"]

#: Files in the folder of a case. The receipt is written last: where it is, all is.
PLAN, REPORT, SOURCE, RECEIPT = "plan.json", "plan.txt", "source.json", "result.json"
#: Below the output folder.
CASES = "cases"


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What became of one case; small, so that it travels well."""

    id: str
    status: Literal["done", "failed", "not run"]
    error: str = ""  # one sentence, where it failed
    stop: bool = False  # nothing more can be written: the run has to stop
    seconds: float = 0.0  # that the case took
    program: str = ""  # mark of the program that did it
    inputs: dict[str, str] = field(default_factory=dict)  # sha256 of all that it rests on
    digest: str = ""  # sha256 of the plan file
    row: dict[str, Any] = field(default_factory=dict)  # cells of cases.csv
    screws: list[dict[str, Any]] = field(default_factory=list)  # rows of screws.csv
    rules: dict[str, dict[str, int]] = field(default_factory=dict)  # rule -> verdict -> times
    folder: str | None = None  # where its files are; None: nothing was written
    text: str | None = None  # of the plan file, where nothing was written

    @property
    def plan(self) -> PlanFile:
        """The plan, or the check, of a case that is done.

        Raises
        ------
        PlanFileError
            If its file cannot be read.
        ValueError
            If the case is not done.
        """
        if self.status != "done":
            raise ValueError(f"{self.id} has no plan: {self.error or self.status}")
        if self.folder is not None:
            return read_plan(Path(self.folder) / PLAN)
        return PlanFile.model_validate_json(self.text or "")

    def receipt(self) -> str:
        """What is written beside the plan.

        Returns
        -------
        str
            JSON.
        """
        data = {key: value for key, value in asdict(self).items() if key not in AWAY}
        return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


#: Fields that a receipt does not hold: where it lies may change.
AWAY = ("folder", "text", "stop", "error")


def folder_of(out: Path, name: str) -> Path:
    """Folder of a case's files.

    Parameters
    ----------
    out : Path
        Output folder of the batch.
    name : str
        Id of the case.

    Returns
    -------
    Path
    """
    return out / CASES / name


def trusted(job: Job, out: Path, program: str) -> Outcome | None:
    """The result of an earlier run, if it is still what this program would make.

    Parameters
    ----------
    job : Job
        What is to be done.
    out : Path
        Output folder of the batch.
    program : str
        Mark of this program, see `program_mark`.

    Returns
    -------
    Outcome or None
        None where the case was not finished, its case or a file that it names changed,
        another program made it, or its plan is gone or was altered.
    """
    folder = folder_of(out, job.id)
    outcome = _receipt(folder)
    if outcome is None or outcome.id != job.id or job.trouble:
        return None
    if outcome.program != program:
        return None
    try:
        now = fingerprints(job.read(), job.axes)
        written = hashlib.sha256((folder / PLAN).read_bytes()).hexdigest()
    except (TrajplanError, OSError, ValueError):  # the last: a path that no system takes
        return None
    same = now == outcome.inputs and written == outcome.digest
    return outcome if same and (folder / REPORT).is_file() else None


def _receipt(folder: Path) -> Outcome | None:
    try:
        data = json.loads((folder / RECEIPT).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    wanted = {f.name: type(getattr(EMPTY, f.name)) for f in fields(Outcome) if f.name not in AWAY}
    if not isinstance(data, dict) or set(data) != set(wanted):
        return None
    if not all(isinstance(data[name], kind) for name, kind in wanted.items()):
        return None
    return Outcome(**data, folder=str(folder)) if data["status"] == "done" else None


EMPTY = Outcome("", "not run")
