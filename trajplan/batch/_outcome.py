"""What became of one case, and the receipt that lets a later run trust it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from pydantic import TypeAdapter

from trajplan.batch._inputs import fingerprints
from trajplan.errors import OutputError, TrajplanError
from trajplan.files import canonical, parse_plan, read_plan
from trajplan.implants import read_bytes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.batch._jobs import Job
    from trajplan.files import PlanFile

__all__ = ["CASES", "PLAN", "RECEIPT", "REPORT", "SOURCE", "Outcome", "folder_of", "trusted"]

#: Files in the folder of a case. The receipt is written last: where it is, all is.
PLAN, REPORT, SOURCE, RECEIPT = "plan.json", "plan.txt", "source.json", "result.json"
#: Key of a receipt: sha256 of all the rest of it.
SEAL = "sha256"
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
    digests: dict[str, str] = field(default_factory=dict)  # file beside it -> sha256
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
        return parse_plan((self.text or "").encode(), Path(PLAN))

    def receipt(self) -> str:
        """What is written beside the plan.

        Returns
        -------
        str
            JSON.
        """
        data = {key: value for key, value in asdict(self).items() if key not in AWAY}
        data[SEAL] = _seal(data)
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
        another program made it, or a file of it, the receipt included, is gone or was altered.
    """
    folder = folder_of(out, job.id)
    outcome = _receipt(folder)
    if outcome is None or outcome.id != job.id or job.trouble:
        return None
    if outcome.program != program:
        return None
    try:
        now = fingerprints(job.read(), job.axes)
        written = {
            name: hashlib.sha256(read_bytes(folder / name, OutputError)).hexdigest()
            for name in outcome.digests
        }
    except TrajplanError:
        return None
    whole = {PLAN, REPORT} <= set(written)
    return outcome if whole and now == outcome.inputs and written == outcome.digests else None


def _receipt(folder: Path) -> Outcome | None:
    try:
        data = json.loads(read_bytes(folder / RECEIPT, OutputError))
        if not isinstance(data, dict) or data.pop(SEAL, None) != _seal(data):
            return None
        outcome = RECEIPTS.validate_json(json.dumps(data), strict=True)
    except (OutputError, ValueError, RecursionError):  # pydantic's own error is a ValueError
        return None
    return replace(outcome, folder=str(folder)) if outcome.status == "done" else None


def _seal(data: Mapping[str, Any]) -> str:
    return hashlib.sha256(canonical(data)).hexdigest()


RECEIPTS: Final = TypeAdapter(Outcome)
