"""Records of how screws press a fracture, and what a load does to it."""

from __future__ import annotations

from pydantic import Field

from trajplan.files._records import Maybe, MaybeVector, Record, Whole, YesNo

__all__ = [
    "ContactRecord",
    "OpeningRecord",
    "OptionRecord",
    "ReserveRecord",
    "SurfaceRecord",
    "ZoneShareRecord",
]


class ZoneShareRecord(Record):
    """How one zone of a fracture is pressed."""

    zone: str = Field(description="id of the zone")
    share: Maybe = Field(default=None, description="of its area in contact, 0 to 1")
    peak: Maybe = Field(default=None, description="MPa")


class SurfaceRecord(Record):
    """How one surface between two fragments is pressed: one rigid fragment on all its zones."""

    zones: tuple[str, ...] = Field(description="ids of its zones")
    fragments: tuple[str, ...] = Field(default=(), description="fragments that it parts")
    screws: Whole = Field(description="number of lag screws that press it")
    force: Maybe = Field(default=None, description="N, sum of the pressures")
    area: Maybe = Field(default=None, description="mm² in contact")
    share: Maybe = Field(default=None, description="`area` over that of the surface, 0 to 1")
    mean: Maybe = Field(default=None, description="MPa over the area in contact")
    peak: Maybe = Field(default=None, description="MPa")
    peak_at: MaybeVector = Field(default=None, description="mm, where it is pressed hardest")
    opens_at: MaybeVector = Field(
        default=None, description="mm, where it opens most; null: nowhere, or not known"
    )
    slip_low: Maybe = Field(default=None, description="slip reserve with the least friction")
    slip_high: Maybe = Field(default=None, description="slip reserve with the most friction")
    bends: YesNo = Field(
        default=False, description="whether its bends bear what friction alone could not"
    )
    solved: YesNo = Field(description="whether the contact was found, or there is none")
    by_zone: tuple[ZoneShareRecord, ...] = ()


class ContactRecord(Record):
    """How the lag screws press the fracture together, at the estimated preload."""

    force: Maybe = Field(default=None, description="N, sum of the pressures")
    area: Maybe = Field(default=None, description="mm² in contact")
    mean: Maybe = Field(default=None, description="MPa over the area in contact")
    peak: Maybe = Field(default=None, description="MPa")
    share: Maybe = Field(default=None, description="`area` over the whole fracture, 0 to 1")
    solved: YesNo = Field(description="whether the contact was found")
    surfaces: tuple[SurfaceRecord, ...] = Field(
        default=(), description="each surface between two fragments"
    )


class ReserveRecord(Record):
    """Friction over the shear that it must bear, over the range of friction."""

    low: Maybe = Field(
        default=None,
        description="below 1 they slide; null: endless, or unknown where `contact` is not solved",
    )
    high: Maybe = Field(default=None, description="null: as for `low`")


class OpeningRecord(Record):
    """Factor on the load of the case at which the fracture opens further or slides."""

    low: Maybe = Field(default=None, description="with the least friction; null: never")
    high: Maybe = Field(default=None, description="with the most friction; null: never")
    gap: Maybe = Field(
        default=None, description="at which it opens further than the screws alone leave it"
    )
    least: Maybe = Field(
        default=None,
        description="with the least friction, were all screws tightened to the low end of their "
        "preload only; null: never",
    )
    where: str = Field(
        default="", description="surface that gives way first; empty: there is but one"
    )
    unknown: str = Field(default="", description="why none of these can be told; empty: they can")


class OptionRecord(Record):
    """What another number or kind of screw would give."""

    count: Whole
    kind: str
    holding: Maybe = Field(default=None, description="N, low end of the weakest screw")
    squeeze: Maybe = Field(default=None, description="N, of all screws, at the estimate")
    share: Maybe = Field(default=None, description="of the fracture in contact, 0 to 1")
    slip_low: Maybe = Field(
        default=None,
        description="slip reserve of the fractures that are pressed, least friction; null: endless",
    )
    unpressed: Whole = Field(default=0, description="fractures that no screw presses")
