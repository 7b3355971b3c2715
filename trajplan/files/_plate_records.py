"""Records of the plates of a plan."""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import Field

from trajplan.files._records import (
    FindingRecord,
    Maybe,
    MaybeVector,
    Number,
    RangeRecord,
    Record,
    ScrewRecord,
    Vector,
    VerdictWord,
    Whole,
    YesNo,
)

__all__ = [
    "BridgeRecord",
    "PlateFitRecord",
    "PlateForceRecord",
    "PlateGapRecord",
    "PlateHoleRecord",
    "PlateOptionRecord",
    "PlateRecord",
    "PlateSizeRecord",
    "PlateStepRecord",
    "PlateTallyRecord",
    "UseWord",
    "WorkWord",
]

WorkWord: TypeAlias = Literal["compress", "protect", "buttress"]
UseWord: TypeAlias = Literal["neutral", "eccentric", "lag", "empty"]


class PlateSizeRecord(Record):
    """What is needed to draw a plate; mm."""

    length: Number
    width: Number
    thickness: Number
    back: Maybe = Field(default=None, description="radius of a hollow underside; null: flat")
    form: Literal["sloped", "round", "long"] = Field(description="of its holes")
    hole: Number = Field(description="widest thread that a hole takes: its width is not printed")
    seat: Maybe = Field(default=None, description="radius of the sphere in a hole; null: unknown")


class BridgeRecord(Record):
    """The stretch of a plate between two holes, and how it is bent."""

    after: Whole = Field(description="hole, from 1, that it follows")
    length: Number = Field(description="mm, from the rim of one hole to that of the next")
    flatwise: Number = Field(description="degrees; above 0: the ends bend towards the bone")
    twist: Number = Field(description="degrees; above 0: right-handed along the plate")
    strain: Number = Field(description="of the plate's faces by the flatwise bend")


class PlateFitRecord(Record):
    """How a plate lies on the bone; gaps in mm, null where no bone lies below."""

    mean: Maybe = Field(default=None, description="along its middle line")
    largest: Maybe = Field(default=None, description="along its middle line")
    edge_largest: Maybe = Field(default=None, description="at its edges")
    share_1: Number = Field(description="share of the underside within 1 mm of bone")
    share_2: Number = Field(description="the same within 2 mm")
    beside: Number = Field(description="share of the underside with no bone below")
    depth: Number = Field(description="mm that it cuts into bone")


class PlateHoleRecord(Record):
    """One hole of a plate."""

    number: Whole = Field(description="from 1, from the plate's first end")
    centre: Vector = Field(description="mm, middle of the hole on the underside")
    axis: Vector = Field(description="unit vector of the hole, into the bone")
    use: UseWord
    screw: str | None = Field(default=None, description="id of the screw in it; null: empty")
    fragment: str | None = Field(
        default=None, description="that lies below; null: the hole lies over the fracture"
    )
    gap: Maybe = Field(default=None, description="mm to the bone below; null: none there")
    along: Maybe = Field(default=None, description="mm along the plate to the fracture, signed")
    offset: Number = Field(default=0.0, description="mm along the plate that it is drilled aside")
    tilt_along: Maybe = Field(default=None, description="degrees of the screw in it")
    tilt_across: Maybe = Field(default=None, description="degrees of the screw in it")
    why: str = Field(default="", description="why it is used so, or stays empty")


class PlateStepRecord(Record):
    """One step of fixing, in its order."""

    says: str = Field(description="one or two sentences")
    holes: tuple[Whole, ...] = Field(default=(), description="numbers of the holes, from 1")
    screws: tuple[str, ...] = Field(default=(), description="ids of the screws")


class PlateGapRecord(Record):
    """Gap between the fragments on one side of the bone; mm, null: unknown."""

    before: Maybe = None
    straight: Maybe = Field(default=None, description="pressed by a plate without overbend")
    after: Maybe = Field(default=None, description="pressed by the plate with the overbend wanted")


class PlateForceRecord(Record):
    """Forces of a plate; null: unknown, and `why` says why."""

    tension: RangeRecord | None = Field(default=None, description="N, in one eccentric screw")
    squeeze: RangeRecord | None = Field(default=None, description="N, presses the fracture")
    holding: RangeRecord | None = Field(
        default=None, description="N, pull-out of its weakest screw, the lag screws left out"
    )
    friction: RangeRecord | None = Field(
        default=None, description="N along the bone that its screws bear by friction, weaker side"
    )
    buttress: RangeRecord | None = Field(
        default=None, description="N that must push the fragment up so that it does not slip"
    )
    spring: Maybe = Field(
        default=None, description="N for each mm that the free end is bent less than the bone"
    )
    stiffness_plate: Maybe = Field(default=None, description="N·m², the plate alone, between holes")
    stiffness_bone: Maybe = Field(default=None, description="N·m², a tube as the bone there")
    stiffness_both: Maybe = Field(default=None, description="N·m², bonded, the fracture closed")
    axial_share: Maybe = Field(default=None, description="of an axial load that the plate takes")
    strain: Maybe = Field(
        default=None, description="of the plate's faces under the case's bending, the gap open"
    )
    yields_at: Maybe = Field(default=None, description="N·m at which the plate yields")
    why: str = Field(default="", description="what cannot be told, and why")


class PlateOptionRecord(Record):
    """A place that was weighed and not chosen."""

    kind: str
    holes: Whole
    work: WorkWord
    side: Vector = Field(description="out of the bone at the plate's middle")
    slide: Number = Field(description="mm along the bone from the plate that was chosen")
    turn: Number = Field(description="degrees round the bone from the plate that was chosen")
    screws: Whole = Field(description="that it holds")
    verdict: VerdictWord
    why: str = Field(description="what is worse about it")


class PlateTallyRecord(Record):
    """What one rule cost in the search for a place."""

    rule: str
    places: Whole = Field(description="places that it turned away")
    nearest_miss: Maybe = Field(default=None, description="least excess over the limit, in `unit`")
    unit: str = ""


class PlateRecord(Record):
    """A plate of a plan, as it lies and as it is fixed; lengths in mm."""

    id: str = Field(description="name of the plate in this plan")
    kind: str = Field(description="kind in the catalogue")
    holes: Whole
    work: WorkWord
    proposed: YesNo = Field(description="whether the program chose `work`, the case being silent")
    why: str = Field(description="why it does this work here, and lies here")
    size: PlateSizeRecord
    line: tuple[Vector, ...] = Field(description="middle line of the underside, end to end")
    across: tuple[Vector, ...] = Field(description="unit vector across the plate at each point")
    out: tuple[Vector, ...] = Field(description="unit vector out of the bone at each point")
    bends: tuple[BridgeRecord, ...]
    fit: PlateFitRecord
    hole: tuple[PlateHoleRecord, ...]
    screws: tuple[ScrewRecord, ...] = Field(
        description="of the plate's own; a lag screw through it stands in the plan's `screws`"
    )
    lag: tuple[str, ...] = Field(default=(), description="ids of lag screws through it")
    first_fragment: str | None = Field(
        default=None, description="that is fixed to it first; null: either, or no matter"
    )
    first_why: str = ""
    order: tuple[PlateStepRecord, ...] = Field(description="steps of fixing")
    shift: Maybe = Field(default=None, description="mm that eccentric screws move it; null: none")
    gap_near: PlateGapRecord = PlateGapRecord()
    gap_far: PlateGapRecord = PlateGapRecord()
    overbend: RangeRecord | None = Field(
        default=None,
        description="mm that its middle is to stand off, resting on its ends; null: unknown",
    )
    overbend_why: str = ""
    forces: PlateForceRecord = PlateForceRecord()
    apex: MaybeVector = Field(
        default=None, description="mm, where the fracture line comes nearest to it, to buttress"
    )
    stands_out: Maybe = Field(default=None, description="mm of it over the bone, at most")
    span_ratio: Maybe = Field(default=None, description="its length over the fracture's")
    density: Number = Field(description="share of its holes that hold a screw")
    screws_each_side: tuple[Whole, Whole] = Field(
        description="through both walls, at its first end and at its last"
    )
    score: Maybe = Field(default=None, description="rank among places; null: it was given")
    options: tuple[PlateOptionRecord, ...] = ()
    tally: tuple[PlateTallyRecord, ...] = ()
    findings: tuple[FindingRecord, ...] = ()
