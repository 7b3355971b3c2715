"""What the tables of a case are made of: numbers, points, words."""

from __future__ import annotations

import math
from typing import Annotated, TypeAlias

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, Strict

from trajplan.arrays import MIN_LENGTH
from trajplan.files._sentences import refuse
from trajplan.implants import shown
from trajplan.outside import obeyed

__all__ = [
    "Above",
    "Coordinate",
    "Direction",
    "FragmentNumber",
    "Label",
    "Limit",
    "Number",
    "Point",
    "Table",
    "Text",
    "one_of",
]


def _three(value: object) -> object:
    numbers = isinstance(value, list | tuple) and len(value) == 3
    if not numbers:
        raise refuse(f"found {shown(value)}", "give three numbers, [x, y, z]")
    return value


def _long_enough(vector: tuple[float, float, float]) -> tuple[float, float, float]:
    if math.hypot(*vector) < MIN_LENGTH:
        raise refuse(
            f"found {list(vector)}, which has no direction", "give a vector that is not zero"
        )
    return vector


def _shown_as_it_is(text: str) -> str:
    sign = next((c for c in text if obeyed(c)), None)
    if sign is not None:
        raise refuse(
            f"found the control character U+{ord(sign):04X}, which a terminal would obey",
            "take it out",
        )
    return text


Label: TypeAlias = Annotated[str, AfterValidator(_shown_as_it_is)]
Text: TypeAlias = Annotated[str, Field(min_length=1), AfterValidator(_shown_as_it_is)]
#: Bounds of what no rule bounds: far above any length, force or moment on a bone, and so far
#: below the largest float that no product of a few of them overflows.
Number: TypeAlias = Annotated[float, Strict(), Field(ge=-1e9, le=1e9)]
Above: TypeAlias = Annotated[float, Strict(), Field(gt=0, le=1e9)]
Limit: TypeAlias = Annotated[float, Strict(), Field(ge=0, le=1e9)]
#: As far out as a mesh may reach (`trajplan.bone`); far above any bone in any unit.
Coordinate: TypeAlias = Annotated[float, Strict(), Field(ge=-1e7, le=1e7)]
Point: TypeAlias = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(_three)]
Direction: TypeAlias = Annotated[Point, AfterValidator(_long_enough)]


#: Fragments are numbered from 1, in the order of the case.
FragmentNumber: TypeAlias = Annotated[int, Strict(), Field(ge=1)]


class Table(BaseModel):
    """A table of the case: no unknown keys, and never changed."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def one_of(table: Table, keys: tuple[str, ...]) -> None:
    """Refuse a table that gives not exactly one of some keys."""
    given = [key for key in keys if getattr(table, key) is not None]
    if len(given) != 1:
        found = f"both {' and '.join(given)} are given" if given else "no source is given"
        raise refuse(found, f"give exactly one of {', '.join(keys)}")
