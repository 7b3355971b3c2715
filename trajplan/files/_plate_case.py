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

    direction: Direction  # out of the bone
    cone: Annotated[float, Strict(), Field(gt=0, le=180)] = 45.0  # degrees about the plate's line


class PlateCase(Table):
    """A plate that is wanted."""

    kind: Text
    holes: (
        Annotated[
            tuple[Annotated[int, Strict()], ...], BeforeValidator(_numbers), Field(min_length=1)
        ]
        | None
    ) = None  # a number, or several to choose from; None: what the tray holds
    work: Literal["compress", "protect", "buttress"] | None = None  # None: proposed
    side: SideCase | None = None  # None: screws.approach, else all round the bone
    along: Direction | None = None  # None: the shaft's axis
    near: Point | None = None  # under the plate's middle, in the case's unit; None: the fracture
    # where the plate lies, in the case's unit: points of the middle line of its underside, from
    # its first end to its last; or the middles of all of its holes there
    line: Annotated[tuple[Point, ...], Field(min_length=2)] | None = None
    at: Annotated[tuple[Point, ...], Field(min_length=2)] | None = None
    screws: Annotated[tuple[Text, ...], Field(min_length=1)] | None = None  # None: what fits
    eccentric: Annotated[int, Strict(), Field(ge=1, le=2)] = 1  # screws that press, to compress
    region: Text | None = None  # such as "femur shaft": least screws on each side
    growth_plate: Text | None = None  # name of an avoid that the plate's ends keep away from

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
