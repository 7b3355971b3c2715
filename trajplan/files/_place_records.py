"""Parts of the plan file that tell where an entry lies, from what hands can find."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from trajplan.files._records import Maybe, Number, Record, Vector

__all__ = [
    "BearingsRecord",
    "DistanceRecord",
    "LandmarkRecord",
    "PlaceRecord",
]


class LandmarkRecord(Record):
    """A place on the bone that hands can find."""

    name: str
    point: Vector = Field(description="mm")


class BearingsRecord(Record):
    """What the places of a plan are told from."""

    side: Literal["left", "right"] | None = Field(default=None, description="null: not stated")
    ends: tuple[str, str] | None = Field(
        default=None,
        description="names of the bone's ends, that which the clock is seen from first; null: the "
        "bone has no shaft to count along",
    )
    seen: Vector | None = Field(default=None, description="unit vector towards the first end")
    twelve: str = Field(default="", description="what lies at twelve o'clock; empty: no shaft")
    landmarks: tuple[LandmarkRecord, ...] = ()


class DistanceRecord(Record):
    """How far an entry lies from a landmark or from another entry."""

    name: str = Field(description="of the landmark, or id of the other screw or wire")
    distance: Number = Field(description="mm, straight")
    offsets: tuple[tuple[str, Number], ...] = Field(
        default=(), description="mm from it in each direction that the entry lies in, by name"
    )


class PlaceRecord(Record):
    """Where the entry of a screw or a wire lies."""

    id: str = Field(description="of the screw or wire")
    ends: tuple[Number, Number] | None = Field(
        default=None, description="mm along the shaft from each end of the model; null: no shaft"
    )
    tips: tuple[Number, Number] | None = Field(
        default=None,
        description="mm along the shaft past the fracture's tip at either end, towards that end; "
        "negative: within the fracture's stretch",
    )
    clock: Maybe = Field(
        default=None, description="degrees round the shaft, clockwise from twelve, seen from `ends`"
    )
    facing: str = Field(default="", description="that side in words; empty: the frame names none")
    fracture: Maybe = Field(default=None, description="mm, straight to the fracture line")
    landmarks: tuple[DistanceRecord, ...] = ()
    entries: tuple[DistanceRecord, ...] = Field(
        default=(), description="of the screws and wires named before"
    )
