"""The record of a reduction: how fragments were moved together, how they lay, how sure that is."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final, Literal

from pydantic import Field, field_validator

from trajplan.errors import PlanFileError
from trajplan.files._moved_records import DisplacementRecord, Origin, Rows
from trajplan.files._origin_records import SHA256, CaseRecord, ProgramRecord
from trajplan.files._own_record import OwnRecord, RecordFile
from trajplan.files._records import (
    FindingRecord,
    Maybe,
    Record,
    VerdictWord,
    Whole,
    YesNo,
)
from trajplan.files._sentences import refuse
from trajplan.implants import read_bytes

if TYPE_CHECKING:
    from pathlib import Path

__all__ = [
    "DisplacementRecord",
    "FragmentRecord",
    "JointFitRecord",
    "PairFitRecord",
    "ReductionFile",
    "RivalRecord",
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
    gap_largest: Maybe = Field(description="mm, but for the hundredth where it is most: noise")
    step_mean: Maybe = Field(description="mm along the rim")
    step_largest: Maybe = Field(description="mm, the same")
    overlap: Maybe = Field(description="mm³")
    inside: tuple[Maybe, Maybe] = Field(
        default=(None, None),  # records of before have none
        description="share of either's surface round its break that lies inside the other, 0 to 1",
    )
    contact: Maybe = Field(description="share of the broken surface, 0 to 1")
    rival: Maybe = Field(description="score of the best other placement over that of this one")
    steady_shift: Maybe = Field(description="mm, as one sector of the fracture is left out")
    steady_turn: Maybe = Field(description="degrees, the same")
    agree_shift: Maybe = Field(description="mm, broken surfaces alone against outer wall alone")
    agree_turn: Maybe = Field(description="degrees, the same")
    slides: SlidesRecord
    turn_known: YesNo
    length_known: YesNo


class RivalRecord(Record):
    """Another way to put all fragments together, that fits less well."""

    score: Maybe = Field(description="its score over that of the way taken, 0 to 1")
    fragment: str = Field(description="the one that lies most differently")
    shift: Maybe = Field(description="mm by which the middle of its broken surface lies elsewhere")
    turn: Maybe = Field(description="degrees by which it is turned otherwise")
    matrices: tuple[Rows, ...] = Field(
        description="of each fragment in their order, rows, mm, from as it lies"
    )


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


class ReductionFile(OwnRecord):
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
    rivals: tuple[RivalRecord, ...] = Field(
        default=(), description="other ways that were settled, best first; none: moved by hand"
    )
    trusted: YesNo = Field(
        description="whether every measure of certainty is within its limit; of the length only "
        "length_known of the pairs tells"
    )
    doubts: tuple[str, ...] = ()
    findings: tuple[FindingRecord, ...]
    verdict: VerdictWord

    @field_validator("fragments")
    @classmethod
    def _one_stays(cls, fragments: tuple[FragmentRecord, ...]) -> tuple[FragmentRecord, ...]:
        if sum(one.fixed for one in fragments) != 1:
            raise refuse("not one fragment is fixed", "reduce the case again")
        return fragments


_FILE: Final = RecordFile(
    ReductionFile,
    "the record of a reduction",
    "reduce the case again, or move fragments in the window",
)
reduction_schema = _FILE.schema
write_reduction, reduction_json = _FILE.write, _FILE.text
read_reduction, parse_reduction = _FILE.read, _FILE.parse


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
