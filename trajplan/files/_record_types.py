"""What records of files are made of: numbers that are tidied, shares, vectors, verdicts."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    Strict,
    model_validator,
)

__all__ = [
    "DECIMALS",
    "TOLD",
    "Maybe",
    "MaybeShare",
    "MaybeVector",
    "Number",
    "RangeRecord",
    "Record",
    "Share",
    "StretchRecord",
    "Vector",
    "VerdictWord",
    "Whole",
    "YesNo",
    "span",
]

#: Decimals of every number in a plan file: a nanometre, far below what any mesh resolves.
DECIMALS = 6

VerdictWord: TypeAlias = Literal["pass", "note", "caution", "fail", "unknown"]

#: Verdicts that are told, the gravest first, as `trajplan.checks.Verdict` weighs them. Written out
#: here so that reading a file does not load the checks and everything below them.
TOLD: tuple[VerdictWord, ...] = ("fail", "caution", "unknown", "note")


def _tidy(value: float) -> float:
    return round(value, DECIMALS) + 0.0  # adding zero turns -0.0 into 0.0


def _is_gap(value: object) -> bool:
    return isinstance(value, float) and not math.isfinite(value)


def _null_gap(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _null_gaps(value: object) -> object:
    return None if isinstance(value, list | tuple) and any(map(_is_gap, value)) else value


Number: TypeAlias = Annotated[float, Strict(), AfterValidator(_tidy)]
Maybe: TypeAlias = Annotated[Number | None, BeforeValidator(_null_gap)]
Share: TypeAlias = Annotated[float, Strict(), Field(ge=0, le=1), AfterValidator(_tidy)]
MaybeShare: TypeAlias = Annotated[Share | None, BeforeValidator(_null_gap)]
Vector: TypeAlias = tuple[Number, Number, Number]
MaybeVector: TypeAlias = Annotated[Vector | None, BeforeValidator(_null_gaps)]
Whole: TypeAlias = Annotated[int, Strict(), Field(ge=0)]
YesNo: TypeAlias = Annotated[bool, Strict()]


def _revived(cls: type[Record], values: dict[str, Any], given: set[str]) -> Record:
    """A record as it was pickled."""
    record = object.__new__(cls)
    put = object.__setattr__
    put(record, "__dict__", values)
    put(record, "__pydantic_fields_set__", given)
    put(record, "__pydantic_extra__", None)
    put(record, "__pydantic_private__", None)
    return record


#: Types that need no turning into plain ones.
_PLAIN = frozenset({str, float, int, bool, tuple, list, dict, type(None)})


class Record(BaseModel):
    """A part of the plan file; takes numpy numbers and arrays, keeps plain ones."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        populate_by_name=True,
        json_schema_serialization_defaults_required=True,
    )

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle what there is: a long check reads back each of its records several times."""
        return _revived, (type(self), self.__dict__, self.__pydantic_fields_set__)

    @model_validator(mode="before")
    @classmethod
    def _plain(cls, data: Any) -> Any:  # noqa: ANN401 - a validator may be handed anything
        if not isinstance(data, dict):
            return data
        # a type is looked at sooner than an attribute that is not there, and most are plain
        return {
            k: v.tolist() if type(v) not in _PLAIN and hasattr(v, "tolist") else v
            for k, v in data.items()
        }


def span(alias: str, text: str) -> Any:  # noqa: ANN401 - `pydantic.Field` returns Any
    return Field(validation_alias=alias, serialization_alias=alias, description=text)


class StretchRecord(Record):
    """A stretch of the axis."""

    start: Number = span("from", "mm along the axis from the entry")
    end: Number = span("to", "mm along the axis from the entry")


class RangeRecord(Record):
    """A value with the bounds that its inputs leave."""

    low: Maybe = None
    estimate: Maybe = None
    high: Maybe = None
