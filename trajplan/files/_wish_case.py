"""What a case asks for: screws, wires, loads, hands, and what counts in the choice."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, Strict

from trajplan.files._case_types import Above, Direction, Limit, Number, Table, Text

__all__ = ["Approach", "MechanicsCase", "PlacementCase", "ScrewCase", "WeightCase", "WireCase"]


class Approach(Table):
    """Side from which the bone can be reached."""

    direction: Direction = Field(description="from the bone towards the surgeon")
    cone: Annotated[float, Strict(), Field(gt=0, le=180)] = Field(
        description="degrees round it within which the drill may come"
    )


class ScrewCase(Table):
    """The screws that are wanted."""

    count: Annotated[int, Strict(), Field(ge=0, le=6)] = Field(
        default=2, description="1 to 6; 0 where a plate does it without"
    )
    kinds: Annotated[tuple[Text, ...], Field(min_length=1)] = Field(
        default=("HA4.5",), description="kinds of the catalogue that may be used"
    )
    technique: Literal["lag", "position"] = Field(default="lag", description="`lag` or `position`")
    # by thread: a shallow thread holds in both cortices, a deep one stops in soft end-bone
    hold: Literal["bicortical", "unicortical", "by thread"] = Field(
        default="by thread",
        description="`bicortical`, `unicortical`, or by thread: shallow bicortical, deep "
        "unicortical",
    )
    washer: Annotated[bool, Strict()] = Field(
        default=False, description="washer under every head that has one in the catalogue"
    )
    # what screws stand square to; midway, or square to the bone, they bear load along the shaft
    aim: Literal["to the fracture", "between", "to the bone"] = Field(
        default="to the fracture",
        description="what screws stand square to: `to the fracture`; `between`, midway to the "
        "bone's own normal, as is taught for short oblique fractures that must bear "
        "load along the shaft; `to the bone`",
    )
    protection: Literal["none", "plate", "cast", "buttress", "tension band"] = Field(
        default="none",
        description="what protects the screws: `none`, `plate`, `cast`, `buttress`, `tension band`",
    )
    approach: Approach | None = Field(
        default=None,
        description="`{ direction = [x, y, z], cone = degrees }`; direction towards the surgeon",
    )
    parallel_to: Text | None = Field(
        default=None,
        description="name of a joint that screws run parallel to, or `joint` for the only one",
    )
    candidates: Annotated[int, Strict(), Field(ge=50, le=200_000)] = Field(
        default=2000, description="lines that are tried"
    )
    ring: Annotated[int, Strict(), Field(ge=8, le=256)] = Field(
        default=16, description="lines round each axis that stand for the cylinder"
    )


class WireCase(Table):
    """The provisional wires that are wanted."""

    count: Annotated[int, Strict(), Field(ge=0, le=6)] = Field(
        default=0, description="wires for provisional hold"
    )
    kinds: Annotated[tuple[Text, ...], Field(min_length=1)] = Field(
        default=("W1.6",), description="kinds of the catalogue"
    )
    parallel_to: Text | None = Field(default=None, description="as for screws")


class MechanicsCase(Table):
    """What the bone is taken for, and loads to try."""

    bone: Text = Field(
        default="normal",
        description="what the bone is taken for: `normal`, `dense`, `poor`, or another class of "
        "`trajplan/mechanics/bone_classes.toml`",
    )
    axial: Number = Field(
        default=0.0,
        description="N along the shaft, a load to try; positive pushes the fragments together",
    )
    bending: Limit = Field(default=0.0, description="N mm")
    bending_axis: Direction | None = Field(default=None, description="the axis that it bends about")
    torsion: Number = Field(default=0.0, description="N mm about the shaft")
    torque: Above | None = Field(
        default=None,
        description="N m that every screw is tightened to; without it, what hands use for the "
        "screw: 1.31 for a core of 2.4 mm (Aziz et al. 2014, abstract), others as "
        "the cube of the core; soft bone stops them sooner",
    )
    screw_friction: Above | None = Field(
        default=None, description="of screw on bone, with the range of 0.2 to 0.4 round it"
    )


class PlacementCase(Table):
    """How hands err, and how often they are tried."""

    way: Literal["free hand", "sleeve", "guide"] = Field(
        default="free hand",
        description="how holes are drilled: `free hand`, `sleeve` (or an aiming arm), `guide` "
        "(that fits the bone)",
    )
    entry: Limit | None = Field(
        default=None,
        description="mm by which hands err at the entry (standard deviation, each of two "
        "directions); without it: as published for the way",
    )
    direction: Limit | None = Field(
        default=None,
        description="degrees by which they err about each of two axes, whatever the slant; "
        "without it: as published for the way",
    )
    plunge: Limit = Field(
        default=5.1,
        description="mm that a drill goes on in the open once it is through a wall, on average",
    )
    draws: Annotated[int, Strict(), Field(ge=0, le=100_000)] = Field(
        default=500, description="tries for each screw; 0: none"
    )
    seed: Annotated[int, Strict(), Field(ge=0)] = Field(
        default=0, description="of the random draws"
    )


class WeightCase(Table):
    """What counts in the choice of screws, each 0 or more."""

    geometry: Limit = Field(
        default=1.0, description="what counts in the choice of screws: place and direction"
    )
    contact: Limit = Field(default=1.0, description="the share of the fracture that is pressed")
    slip: Limit = Field(default=1.0, description="the reserve against slip")
    holding: Limit = Field(default=1.0, description="the hold of the weakest screw")
    forgiving: Limit = Field(default=1.0, description="the error of hands that is forgiven")
