"""The plan file: everything that was decided, and what it rests on."""

from __future__ import annotations

from typing import ClassVar, Final, Literal

from pydantic import Field

from trajplan.files._ct_records import CtRecord
from trajplan.files._force_records import (
    ContactRecord,
    OpeningRecord,
    OptionRecord,
    ReserveRecord,
)
from trajplan.files._moved_records import ReducedRecord
from trajplan.files._origin_records import SHA256, CaseRecord, ProgramRecord
from trajplan.files._own_record import OwnRecord, RecordFile
from trajplan.files._place_records import BearingsRecord, PlaceRecord
from trajplan.files._plate_records import PlateRecord
from trajplan.files._records import (
    FindingRecord,
    Maybe,
    MaybeVector,
    Number,
    PlacementRecord,
    Record,
    ScrewRecord,
    Vector,
    VerdictWord,
    Whole,
    WireRecord,
    YesNo,
)

__all__ = [
    "AlternativeRecord",
    "CaseRecord",
    "CatalogueRecord",
    "FitRecord",
    "FractureRecord",
    "LimitRecord",
    "MeshRecord",
    "OffsetRecord",
    "PlanFile",
    "ProgramRecord",
    "ShaftRecord",
    "TallyRecord",
    "ZoneRecord",
    "parse_plan",
    "plan_json",
    "plan_lines",
    "plan_schema",
    "read_plan",
    "write_plan",
]

FORMAT: Final = "trajplan-plan"
VERSION: Final = 1


class MeshRecord(Record):
    """A mesh that the plan rests on."""

    role: str = Field(description="bone, fracture, joint or avoid")
    name: str = Field(description="file name")
    sha256: str = Field(pattern=SHA256, description="of the file's bytes")
    faces: Whole = Field(description="number of triangles")
    cautions: tuple[str, ...] = ()


class CatalogueRecord(Record):
    """A catalogue file of the user's own that the plan rests on."""

    name: str = Field(description="file name")
    sha256: str = Field(pattern=SHA256, description="of the file's bytes")


class LimitRecord(Record):
    """A limit that verdicts were taken at."""

    name: str
    value: Number = Field(description="in `unit`")
    default: Number = Field(description="in `unit`")
    unit: str
    source: str
    changed: YesNo = Field(description="whether the case changed it")


class ZoneRecord(Record):
    """A planar part of the fracture."""

    id: str
    point: Vector = Field(description="mm, on the plane")
    normal: Vector = Field(description="unit vector")
    area: Number = Field(description="mm², canal cut out")
    rms: Number = Field(description="mm, root mean square distance from the plane")
    largest: Number = Field(default=0.0, description="mm, largest distance from the plane")
    normal_bound: Maybe = Field(
        default=None, description="degrees, 95 % bound on the normal; null: the plane was given"
    )
    extents: tuple[Number, Number] | None = Field(
        default=None, description="mm, long and short side in the plane"
    )
    flatness: Literal["flat", "uneven", "curved"] | None = None
    obliquity: Maybe = Field(
        default=None,
        description="degrees to the cross-section of the shaft, 0: transverse; null: no shaft",
    )
    fragments: tuple[str, ...] = Field(default=(), description="fragments that it parts")


class OffsetRecord(Record):
    """A misfit of two fragments."""

    mean: Maybe = Field(default=None, description="mm")
    largest: Maybe = Field(default=None, description="mm")
    where: MaybeVector = Field(default=None, description="mm, place of the largest")
    wide: Maybe = Field(default=None, description="mm, what nine tenths stay below")


class FitRecord(Record):
    """How two fragments fit."""

    fragments: tuple[str, str]
    zones: tuple[str, ...] = Field(description="ids of the zones between them")
    area: Number = Field(description="mm² of surface that faces the other")
    gap: OffsetRecord = Field(description="between the facing surfaces; negative: overlap")
    step: OffsetRecord = Field(description="between the outer surfaces along the rim")
    rim_found: Number = Field(description="share of the rim found on both fragments, 0 to 1")
    overlap_volume: Number = Field(description="mm³")
    overlap_depth: Number = Field(description="mm")
    turn: Number = Field(description="degrees against each other, as gap and step betray it")
    turn_blind: bool = Field(description="a turn about some axis would not show")


class ShaftRecord(Record):
    """The long axis of the bone, and the fracture's length along it."""

    point: Vector = Field(description="mm, on the axis")
    direction: Vector = Field(description="unit vector")
    diameter: Number = Field(description="mm, of the shaft")
    fracture_length: Maybe = Field(default=None, description="mm along the shaft")
    fracture_ratio: Maybe = Field(
        default=None, description="that length over the shaft's diameter at the fracture"
    )


class FractureRecord(Record):
    """The fracture, as planar zones."""

    source: Literal["plane", "points", "mesh", "group", "between"] | None = None
    zones: tuple[ZoneRecord, ...]
    fits: tuple[FitRecord, ...] = Field(default=(), description="of each pair of fragments")
    shaft: ShaftRecord | None = Field(default=None, description="null: no shaft was found")


class AlternativeRecord(Record):
    """The next-best screw in the place of a chosen one."""

    replaces: str = Field(description="id of the screw that it could stand in for")
    screw: ScrewRecord


class TallyRecord(Record):
    """What one rule cost."""

    rule: str
    candidates: Whole = Field(description="number of candidates that the rule turned away")
    nearest_miss: Maybe = Field(default=None, description="least excess over the limit, in `unit`")
    unit: str = ""


class PlanFile(OwnRecord):
    """A plan, or the check of somebody else's axes, as it stands in a file."""

    PIECES: ClassVar[str] = "screws"

    format: Literal["trajplan-plan"] = FORMAT
    version: Literal[1] = VERSION
    created: str = Field(description="date and time, ISO 8601; the only field that may differ")
    program: ProgramRecord
    title: str = ""
    unit: Literal["mm"] = Field(default="mm", description="unit of every length in this file")
    frame: str = Field(default="", description="label of the coordinate frame, as in the case")
    cautions: tuple[str, ...] = Field(description="to be read before any number")
    case: CaseRecord
    meshes: tuple[MeshRecord, ...]
    catalogues: tuple[CatalogueRecord, ...] = Field(
        default=(), description="beside the program's own"
    )
    reduction: ReducedRecord | None = Field(
        default=None, description="null: the bone was planned on as it lies"
    )
    ct: CtRecord | None = Field(default=None, description="null: no bone was measured")
    fracture: FractureRecord
    assumptions: tuple[str, ...] = ()
    limits: tuple[LimitRecord, ...]
    seed: Whole = Field(default=0, description="of every random draw")
    screws: tuple[ScrewRecord, ...]
    wires: tuple[WireRecord, ...] = Field(default=(), description="for provisional hold")
    bearings: BearingsRecord = Field(
        default=BearingsRecord(), description="what the places of entries are told from"
    )
    places: tuple[PlaceRecord, ...] = Field(
        default=(),
        description="where each entry lies, none for one that misses the bone; and of a plate its "
        "end holes and the one filled first",
    )
    plates: tuple[PlateRecord, ...] = ()
    findings: tuple[FindingRecord, ...] = Field(
        default=(), description="of pairs and of the plan as a whole"
    )
    contact: ContactRecord | None = Field(default=None, description="null: nothing presses")
    slip_reserve: ReserveRecord | None = None
    opening_load: OpeningRecord | None = Field(default=None, description="null: no load asked")
    placement: PlacementRecord | None = Field(
        default=None, description="of the plan as a whole; null: not tried"
    )
    options: tuple[OptionRecord, ...] = ()
    alternatives: tuple[AlternativeRecord, ...] = ()
    tally: tuple[TallyRecord, ...] = ()
    verdict: VerdictWord


_FILE: Final = RecordFile(
    PlanFile,
    "a plan file",
    "plan the case again, or move screws in the window of `trajplan view` and save",
)
plan_schema = _FILE.schema
write_plan, plan_json, plan_lines = _FILE.write, _FILE.text, _FILE.lines
read_plan, parse_plan = _FILE.read, _FILE.parse
