"""The record of a reduction: how fragments were moved together, how they lay, how sure that is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field, ValidationError, computed_field, field_validator

from trajplan.errors import PlanFileError
from trajplan.files._digest import APART, content_digest
from trajplan.files._moved_records import DisplacementRecord, Origin, Rows
from trajplan.files._origin_records import SHA256, CaseRecord, ProgramRecord
from trajplan.files._output import write_text_atomic
from trajplan.files._own_json import own_json, refuse_edited
from trajplan.files._records import (
    FindingRecord,
    Maybe,
    Record,
    VerdictWord,
    Whole,
    YesNo,
)
from trajplan.files._sentences import refuse, sentence
from trajplan.implants import read_bytes

__all__ = [
    "DisplacementRecord",
    "FragmentRecord",
    "JointFitRecord",
    "PairFitRecord",
    "ReductionFile",
    "SlidesRecord",
    "TemplateRecord",
    "is_reduction",
    "parse_reduction",
    "read_reduction",
    "reduction_json",
    "reduction_schema",
    "write_reduction",
]

FORMAT: Final = "trajplan-reduction"
VERSION: Final = 1


class FragmentRecord(Record):
    """A fragment, and its movement."""

    name: str = Field(description="file name, or a body of the bone's mesh")
    sha256: str = Field(pattern=SHA256, description="of the mesh as it lies")
    faces: Whole
    reduced: str = Field(description="file name of the mesh that was moved")
    reduced_sha256: str = Field(pattern=SHA256)
    fixed: YesNo
    origin: Origin = Field(description="of the movement")
    matrix: Rows = Field(description="rows, mm, from as it lies to reduced")
    displacement: DisplacementRecord | None = Field(description="null: the fixed fragment")


class SlidesRecord(Record):
    """How far a piece may still slide and the fit be hardly worse; null: not measured."""

    along: Maybe = Field(description="mm along the shaft")
    across: tuple[Maybe, Maybe] = Field(description="mm")
    turn: Maybe = Field(description="degrees about the shaft")
    tilt: tuple[Maybe, Maybe] = Field(description="degrees")


class PairFitRecord(Record):
    """How well two fragments fit, reduced."""

    fragments: tuple[str, str]
    gap_mean: Maybe = Field(description="mm")
    gap_90: Maybe = Field(description="mm, what nine tenths stay below")
    gap_largest: Maybe = Field(description="mm")
    step_mean: Maybe = Field(description="mm along the rim")
    step_largest: Maybe = Field(description="mm")
    overlap: Maybe = Field(description="mm³")
    contact: Maybe = Field(description="share of the broken surface, 0 to 1")
    rival: Maybe = Field(description="score of the best other placement over that of this one")
    steady_shift: Maybe = Field(description="mm, as one sector of the fracture is left out")
    steady_turn: Maybe = Field(description="degrees, the same")
    agree_shift: Maybe = Field(description="mm, broken surfaces alone against outer wall alone")
    agree_turn: Maybe = Field(description="degrees, the same")
    slides: SlidesRecord
    turn_known: YesNo
    length_known: YesNo


class JointFitRecord(Record):
    """Gap and step of a joint surface across the fracture."""

    name: str
    fragments: tuple[str, str]
    when: Literal["as it lies", "reduced"]
    gap_mean: Maybe = Field(description="mm")
    gap_largest: Maybe = Field(description="mm")
    step_mean: Maybe = Field(description="mm")
    step_largest: Maybe = Field(description="mm")


class TemplateRecord(Record):
    """The bone that length and turn were taken from."""

    name: str
    sha256: str = Field(pattern=SHA256)
    mirror: YesNo
    misfit: Maybe = Field(description="mm, seven tenths of the outer wall lie nearer to it")
    short: Maybe = Field(description="mm that the reduced bone is shorter; negative: longer")
    turn: Maybe = Field(description="degrees that it is turned about the shaft against it")


class ReductionFile(Record):
    """A reduction, as it stands in a file."""

    format: Literal["trajplan-reduction"] = FORMAT
    version: Literal[1] = VERSION
    created: str = Field(description="date and time, ISO 8601; the only field that may differ")
    program: ProgramRecord
    title: str = ""
    frame: str = Field(default="", description="label of the frame, never applied")
    unit: Literal["mm"] = "mm"
    case_unit: Literal["mm", "cm", "m", "inch"] = Field(description="of the meshes")
    cautions: tuple[str, ...] = Field(description="to be read before any number")
    case: CaseRecord
    fragments: tuple[FragmentRecord, ...] = Field(min_length=2)
    pairs: tuple[PairFitRecord, ...]
    joints: tuple[JointFitRecord, ...] = ()
    template: TemplateRecord | None = None
    trusted: YesNo = Field(description="whether every measure of certainty is within its limit")
    doubts: tuple[str, ...] = ()
    findings: tuple[FindingRecord, ...]
    verdict: VerdictWord

    @field_validator("fragments")
    @classmethod
    def _one_stays(cls, fragments: tuple[FragmentRecord, ...]) -> tuple[FragmentRecord, ...]:
        if sum(one.fixed for one in fragments) != 1:
            raise refuse("not one fragment is fixed", "reduce the case again")
        return fragments

    @computed_field(  # type: ignore[prop-decorator]  # pydantic's own way, as its manual has it
        description="sha256 of all the rest but `created`: a record that was edited is refused"
    )
    @property
    def digest(self) -> str:
        """The sha256 of the content, by which a reader knows whether it was edited."""
        data = self.model_dump(mode="json", by_alias=True, exclude={"digest"})
        return content_digest({key: value for key, value in data.items() if key not in APART})


def reduction_schema() -> dict[str, Any]:
    """JSON Schema of the record, as it ships in ``reduction.schema.json``.

    Returns
    -------
    dict
    """
    schema = ReductionFile.model_json_schema(by_alias=True, mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def reduction_json(record: ReductionFile) -> str:
    """A reduction as the text of its file.

    Parameters
    ----------
    record : ReductionFile
        The reduction.

    Returns
    -------
    str
    """
    return record.model_dump_json(by_alias=True, indent=1) + "\n"


def write_reduction(path: str | Path, record: ReductionFile) -> None:
    """Write the record of a reduction, whole or not at all.

    Parameters
    ----------
    path : str or Path
        The file; its folder must exist.
    record : ReductionFile
        What to write.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    write_text_atomic(Path(path), reduction_json(record))


def is_reduction(path: Path) -> bool:
    """Whether a file says of itself that it is the record of a reduction.

    Parameters
    ----------
    path : Path
        Any file.

    Returns
    -------
    bool
        False as well where it cannot be read: whoever reads it says why.
    """
    try:
        data = json.loads(read_bytes(path, PlanFileError))
    except (PlanFileError, ValueError, RecursionError):
        return False
    return isinstance(data, dict) and data.get("format") == FORMAT


def read_reduction(path: str | Path) -> ReductionFile:
    """Read the record of a reduction.

    Parameters
    ----------
    path : str or Path
        File written by `write_reduction`.

    Returns
    -------
    ReductionFile

    Raises
    ------
    PlanFileError
        If it is missing, no such record, damaged, edited, or written by a newer version.
    """
    path = Path(path)
    return parse_reduction(read_bytes(path, PlanFileError), path)


def parse_reduction(content: bytes, path: Path) -> ReductionFile:
    """A reduction out of the bytes of its file.

    Parameters
    ----------
    content : bytes
        The bytes.
    path : Path
        Where they come from, for errors.

    Returns
    -------
    ReductionFile

    Raises
    ------
    PlanFileError
        See `read_reduction`.
    """
    data = own_json(content, path, FORMAT, VERSION, "the record of a reduction")
    said = data.pop("digest", None)
    try:
        record = ReductionFile.model_validate(data)
    except ValidationError as error:
        where, found, remedy = sentence(error, ReductionFile)
        raise PlanFileError(found, remedy=remedy, file=path, where=where) from None
    refuse_edited(data, said, path, "reduce the case again, or move fragments in the window")
    return record
