"""Parts of the plan file: numbers that can be written, holes, screws, findings.

Every number is rounded to six decimals when a record is built, so that what is read back
equals what was written. A measure that does not exist is ``null``, never NaN.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from pydantic import Field, ValidationInfo, field_validator

from trajplan.files._ct_records import BoneProfileRecord  # noqa: TC001 - pydantic reads it at run time
from trajplan.files._record_types import (
    DECIMALS,
    TOLD,
    Maybe,
    MaybeShare,
    MaybeVector,
    Number,
    RangeRecord,
    Record,
    Share,
    StretchRecord,
    Vector,
    VerdictWord,
    Whole,
    YesNo,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "DECIMALS",
    "TOLD",
    "AsItLiesRecord",
    "ChanceRecord",
    "CortexRecord",
    "CountersinkRecord",
    "DepthRecord",
    "FindingRecord",
    "ForgivingRecord",
    "HoleRecord",
    "Maybe",
    "MaybeVector",
    "Number",
    "OddsRecord",
    "PlacementRecord",
    "RangeRecord",
    "Record",
    "ScrewRecord",
    "StretchRecord",
    "Vector",
    "VerdictWord",
    "WayRecord",
    "Whole",
    "WireRecord",
    "WithoutRecord",
    "YesNo",
    "worst_word",
]


class HoleRecord(StretchRecord):
    """A hole to be drilled or tapped along the axis."""

    diameter: Number = Field(gt=0, description="mm")


class CountersinkRecord(Record):
    """A seat cut for the head."""

    diameter: Number = Field(gt=0, description="mm")
    depth: Number = Field(ge=0, description="mm along the axis")


class DepthRecord(Record):
    """Where the ring of the thread crosses the fracture."""

    min: Number = Field(description="mm from the entry, shallowest ray of the ring")
    axis: Number = Field(description="mm from the entry, on the axis")
    max: Number = Field(description="mm from the entry, deepest ray of the ring")


class CortexRecord(Record):
    """Thickness of one bone wall along the axis, and what it rests on."""

    thickness: Maybe = Field(default=None, description="mm along the axis; null: unknown")
    basis: Literal["modelled", "measured", "assumed", "unknown"] = Field(
        description="modelled: from the canal of the mesh; measured: in the CT; assumed: stated by "
        "the case"
    )
    spread: Maybe = Field(
        default=None, description="mm by which a measured one may be thinner or thicker"
    )


class ForgivingRecord(Record):
    """How far the axis may err in every direction and still fail no rule."""

    tilt: Maybe = Field(default=None, description="degrees; null: cannot be told")
    shift: Maybe = Field(default=None, description="mm; null: cannot be told")


class OddsRecord(Record):
    """A chance in tries by hand."""

    chance: MaybeShare = Field(description="share of the tries that could be told; null: none")
    low: MaybeShare = Field(description="lower end of the 95 % interval (Wilson)")
    high: MaybeShare = Field(description="upper end")


class ChanceRecord(OddsRecord):
    """Chance that a rule fails when hands err."""

    rule: str


class WayRecord(Record):
    """What comes of the plan by one way of drilling."""

    way: Literal["free hand", "sleeve", "guide"]
    harm: OddsRecord
    less: OddsRecord


class WithoutRecord(Record):
    """What comes of the plan if hands did not err in one respect."""

    error: Literal["entry", "direction", "plunge"]
    harm: OddsRecord
    less: OddsRecord


class PlacementRecord(Record):
    """What comes of a screw, or of the plan, when hands err."""

    harm: OddsRecord = Field(description="drill or screw where it must not be, or thread across")
    less: OddsRecord = Field(description="less than planned, without harm")
    unknown: Share = Field(description="share of all tries that could not be told")
    rules: tuple[ChanceRecord, ...] = Field(default=(), description="chances above 0, by rule")
    untold: tuple[str, ...] = Field(
        default=(), description="rules whose chance cannot be told, or that do not apply"
    )
    ways: tuple[WayRecord, ...] = Field(
        default=(), description="of the plan: the way taken first, others where it needs mending"
    )
    without: tuple[WithoutRecord, ...] = Field(
        default=(), description="of the plan: each error gone in turn, where it needs mending"
    )


class FindingRecord(Record):
    """One rule's answer for one subject."""

    rule: str = Field(description="name of the rule")
    subject: str = Field(description='id of a screw, "screw 1 + screw 2" for a pair, or "plan"')
    verdict: VerdictWord = Field(
        description="unknown: the input cannot tell, never a pass; note: needs no decision"
    )
    measured: Maybe = Field(default=None, description="in `unit`; null: nothing to measure")
    limit: Maybe = Field(default=None, description="in `unit`; null: no limit")
    unit: str = Field(description="unit of `measured` and `limit`; empty for pure numbers")
    why: str = Field(description="one sentence")
    source: str = Field(description='standard, paper or "common practice"')


class AsItLiesRecord(Record):
    """Where a screw enters its first fragment, seen on the bone before it was reduced."""

    fragment: str = Field(description="the fragment that the head bears on")
    entry: Vector = Field(description="mm, on that fragment as it lies in the image")
    direction: Vector = Field(description="unit vector from head to tip, there")

    @property
    def x(self) -> float:
        """First coordinate of the entry, mm."""
        return self.entry[0]

    @property
    def y(self) -> float:
        """Second coordinate of the entry, mm."""
        return self.entry[1]

    @property
    def z(self) -> float:
        """Third coordinate of the entry, mm."""
        return self.entry[2]


class ScrewRecord(Record):
    """One screw; depths are mm along the axis from the entry, null where it misses the bone."""

    id: str = Field(description="name of the screw in this plan")
    kind: str = Field(description="kind in the catalogue")
    technique: Literal["lag", "position"]
    hold: Literal["bicortical", "unicortical"] | None = Field(
        default=None, description="whether the thread passes the far cortex or stops before it"
    )
    zone: str | None = Field(default=None, description="id of the fracture zone that it crosses")
    entry: MaybeVector = Field(default=None, description="mm, on the outside of the near cortex")
    exit: MaybeVector = Field(default=None, description="mm, where the axis leaves the far cortex")
    direction: Vector = Field(description="unit vector from head to tip")
    intervals: tuple[tuple[Number, Number], ...] = Field(
        default=(), description="mm, stretches of the axis in bone"
    )
    unknown_intervals: tuple[tuple[Number, Number], ...] = Field(
        default=(), description="mm, stretches where inside and outside could not be told apart"
    )
    fragments: tuple[str, ...] = Field(
        default=(), description="fragments that the axis passes through, in order"
    )
    leaves_bone: YesNo = Field(
        default=False, description="whether the axis leaves the bone between entry and exit"
    )
    fracture_depth: DepthRecord | None = None
    near_cortex: CortexRecord | None = None
    far_cortex: CortexRecord | None = None
    seat: Maybe = Field(
        default=None, description="mm, where the head comes to rest; negative: it stands off"
    )
    rim_contact: MaybeShare = Field(
        default=None, description="share of the head's rim that touches bone, 0 to 1"
    )
    entry_angle: Maybe = Field(default=None, description="degrees, axis to surface normal")
    gauge: Maybe = Field(
        default=None,
        description="mm from the seat to the deepest exit of the ring; null where the screw is "
        "unicortical: a gauge hooks on nothing in a blind hole",
    )
    length: Maybe = Field(default=None, description="mm, stocked length")
    thread_length: Maybe = Field(
        default=None, description="mm, of a partial thread; null: threaded all along"
    )
    proud_tip: Maybe = Field(default=None, description="mm that the tip stands out of the bone")
    washer: str | None = Field(default=None, description="id of the washer in the catalogue")
    gliding_hole: HoleRecord | None = None
    shank_hole: HoleRecord | None = None
    thread_hole: HoleRecord | None = None
    tap: HoleRecord | None = None
    countersink: CountersinkRecord | None = None
    thread: StretchRecord | None = None
    purchase: Maybe = Field(default=None, description="mm of thread in bone beyond the fracture")
    thread_turns: Maybe = Field(default=None, description="turns of thread in `purchase`")
    tilt: Maybe = Field(default=None, description="degrees, axis to fracture normal")
    holding: RangeRecord | None = Field(
        default=None, description="N, pull-out of the thread beyond the fracture (Chapman 1996)"
    )
    preload: RangeRecord | None = Field(default=None, description="N, force in a tightened screw")
    squeeze: RangeRecord | None = Field(default=None, description="N, along the fracture normal")
    shear: RangeRecord | None = Field(default=None, description="N, across it")
    stripping_torque: RangeRecord | None = Field(
        default=None,
        description="N·m at the head at which the thread strips in bone, over the friction of "
        "screw on bone; past 80 % of it tightening adds nothing",
    )
    breaking_torque: RangeRecord | None = Field(
        default=None,
        description="N·m at the head at which the core of a screw drawn tight gives way",
    )
    head_area: Maybe = Field(default=None, description="mm² of bone that head or washer bears on")
    head_pressure: RangeRecord | None = Field(
        default=None,
        description="MPa under head or washer at the screw's own preload, before a head that "
        "sinks in lessens it; null: no lag screw, or unknown",
    )
    bone_profile: BoneProfileRecord | None = Field(default=None, description="null: no CT")
    forgiving: ForgivingRecord | None = None
    placement: PlacementRecord | None = Field(default=None, description="null: not tried")
    score: Maybe = Field(default=None, description="0 to 1, rank among candidates; no unit")
    reason: str = Field(default="", description="why this screw was chosen; empty: it was given")
    as_it_lies: AsItLiesRecord | None = Field(
        default=None, description="null: the bone was planned on as it lies"
    )
    findings: tuple[FindingRecord, ...] = ()

    @field_validator("gauge")
    @classmethod
    def _no_gauge_in_a_blind_hole(cls, gauge: float | None, known: ValidationInfo) -> float | None:
        """Leave out what plans of earlier versions gave: the way to a wall that is not drilled."""
        return None if known.data.get("hold") == "unicortical" else gauge

    @property
    def blind_depth(self) -> float | None:
        """What is measured in a blind hole, mm from the seat of the head to its bottom."""
        if self.hold != "unicortical" or self.thread_hole is None or self.seat is None:
            return None
        return self.thread_hole.end - self.seat

    @property
    def size(self) -> str:
        """Kind, length and partial thread, as a screw is asked for."""
        if self.length is None:
            return f"{self.kind}, no length found"
        thread = "" if self.thread_length is None else f", {self.thread_length:g} mm thread"
        return f"{self.kind} \N{MULTIPLICATION SIGN} {self.length:g} mm{thread}"


def worst_word(findings: Iterable[FindingRecord], nothing: VerdictWord = "pass") -> VerdictWord:
    """Gravest verdict of some findings, as `trajplan.checks.worst` takes it.

    Parameters
    ----------
    findings : iterable of FindingRecord
        Findings.
    nothing : str
        The answer where there is none.

    Returns
    -------
    str
        A note weighs no more than a pass.
    """
    words = {finding.verdict for finding in findings}
    gravest = next((word for word in TOLD if word in words), "pass" if words else nothing)
    return "pass" if gravest == "note" else gravest


class WireRecord(Record):
    """One provisional wire; depths are mm along the axis from the entry."""

    id: str = Field(description="name of the wire in this plan")
    kind: str = Field(description="kind in the catalogue")
    diameter: Number = Field(gt=0, description="mm")
    zone: str | None = Field(default=None, description="id of the fracture zone that it crosses")
    entry: Vector = Field(description="mm, on the outside of the near cortex")
    exit: Vector = Field(description="mm, where it would leave the far cortex: the tip stops here")
    direction: Vector = Field(description="unit vector from the drill to the tip")
    intervals: tuple[tuple[Number, Number], ...] = Field(
        default=(), description="mm, stretches of the axis in bone"
    )
    fracture_depth: Maybe = Field(default=None, description="mm from the entry")
    near_hold: Maybe = Field(default=None, description="mm of wire in bone before the fracture")
    far_hold: Maybe = Field(default=None, description="mm of wire in bone beyond the fracture")
    tilt: Maybe = Field(default=None, description="degrees, axis to fracture normal")
    findings: tuple[FindingRecord, ...] = ()
