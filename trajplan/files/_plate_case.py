"""The plates that a case asks for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, Strict, model_validator

from trajplan.files._case_types import Direction, Point, Table, Text
from trajplan.files._sentences import refuse
from trajplan.implants import shown

__all__ = ["PlateCase", "SideCase"]


def _numbers(value: object) -> object:
    given = list(value) if isinstance(value, list | tuple) else [value]
    numbers = [n for n in given if isinstance(n, int) and not isinstance(n, bool) and n >= 2]
    if not given or len(numbers) < len(given):
        raise refuse(
            f"found {shown(value)}", "give a number of holes, or several to choose from, [6, 8]"
        )
    return tuple(sorted(set(numbers)))


class SideCase(Table):
    """The side of the bone that a plate is to lie on."""

    direction: Direction = Field(description="out of the bone")
    cone: Annotated[float, Strict(), Field(gt=0, le=180)] = Field(
        default=45.0, description="degrees about the line of the plate"
    )


class PlateCase(Table):
    """A plate that is wanted."""

    kind: Text = Field(description="plate of the catalogue")
    holes: (
        Annotated[
            tuple[Annotated[int, Strict()], ...], BeforeValidator(_numbers), Field(min_length=1)
        ]
        | None
    ) = Field(
        default=None,
        description="a number of holes, or several to choose from, `[6, 8]`; without it: found",
    )
    work: Literal["compress", "protect", "buttress"] | None = Field(
        default=None,
        description="`compress` (eccentric screws press the fracture along the bone), `protect` "
        "(lag screws press it, the plate takes the load), `buttress` (the plate "
        "holds a split end up); without it the plan proposes one from the fracture "
        "and says why",
    )
    side: SideCase | None = Field(
        default=None,
        description="`{ direction = [x, y, z], cone = degrees }`, out of the bone; without it: "
        "`screws.approach`, else all round",
    )
    along: Direction | None = Field(
        default=None, description="direction of the plate; without it: the shaft"
    )
    near: Point | None = Field(
        default=None,
        description="point under its middle, in the case's unit; without it: the fracture",
    )
    # where the plate lies, in the case's unit: points of the middle line of its underside, from
    # its first end to its last; or the middles of all of its holes there
    line: Annotated[tuple[Point, ...], Field(min_length=2)] | None = Field(
        default=None,
        description="where it lies: points of the middle line of its underside, from its first "
        "end to its last; without it: found",
    )
    at: Annotated[tuple[Point, ...], Field(min_length=2)] | None = Field(
        default=None,
        description="where it lies: the middles of all its holes there; without it: found",
    )
    screws: Annotated[tuple[Text, ...], Field(min_length=1)] | None = Field(
        default=None, description="kinds for its holes, the wanted one first; without it: what fits"
    )
    eccentric: Annotated[int, Strict(), Field(ge=1, le=2)] = Field(
        default=1, description="eccentric screws, to compress: 1 or 2"
    )
    region: Text | None = Field(
        default=None,
        description="least screws on each side by what is broken: `femur shaft`, `humerus "
        "shaft`, `tibia shaft`, `forearm`, `fibula` (3), `metacarpal`, `face` (2)",
    )
    growth_plate: Text | None = Field(
        default=None, description="name of an avoid that its ends keep away from"
    )

    @model_validator(mode="after")
    def _one_place(self) -> PlateCase:
        if self.line is not None and self.at is not None:
            raise refuse("both line and at are given", "give one of the two")
        for key in ("along", "near"):
            if self.placed and getattr(self, key) is not None:
                raise refuse(
                    f"{key} is given beside the place itself", f"leave {key} out, or the place"
                )
        if self.at is not None and self.holes is not None and self.holes != (len(self.at),):
            raise refuse(
                f"at names {len(self.at)} holes, and holes says otherwise", "leave holes out"
            )
        return self

    @property
    def placed(self) -> bool:
        """Whether the case says where the plate lies."""
        return self.line is not None or self.at is not None
