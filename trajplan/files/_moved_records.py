"""Records of how fragments lie and were moved, for the reduction and for the plan on it."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import AfterValidator, Field, Strict

from trajplan.files._origin_records import SHA256, CaseRecord
from trajplan.files._records import Maybe, MaybeVector, Number, Record, VerdictWord, YesNo

__all__ = ["DisplacementRecord", "MovedRecord", "Origin", "ReducedRecord", "Rows"]


def _exact(value: float) -> float:
    return round(value, MATRIX_DECIMALS) + 0.0  # no "-0.0"


#: Decimals of a matrix: movements are put behind one another, and must stay rigid to 1e-6.
MATRIX_DECIMALS = 12
Exact: TypeAlias = Annotated[float, Strict(), AfterValidator(_exact)]
Row: TypeAlias = tuple[Exact, Exact, Exact, Exact]
Rows: TypeAlias = tuple[Row, Row, Row, Row]
Origin: TypeAlias = Literal["found", "hand", "given"]


class DisplacementRecord(Record):
    """How a fragment lies, seen from where it belongs; null: cannot be told."""

    shift: Number = Field(description="mm, of its place in the fracture, in all")
    rotation: Number = Field(description="degrees, in all")
    across: Maybe = Field(description="mm, shift square to the long axis, at the fracture")
    shortening: Maybe = Field(description="mm along it; negative: pulled apart")
    angulation: Maybe = Field(description="degrees that its axis leans")
    front: Maybe = Field(description="degrees of it in the front view; null: no sides are named")
    front_to: str = Field(description="side of the body that its far end leans to there")
    side: Maybe = Field(description="degrees of it in the side view")
    side_to: str
    turn: Maybe = Field(
        description="degrees about the long axis; positive: clockwise, seen from the fixed fragment"
    )
    toward: MaybeVector = Field(description="unit vector, direction of the shift across")


class MovedRecord(Record):
    """A fragment of a plan, as it was before it was moved."""

    name: str = Field(description="file name, or a body of the bone's mesh")
    sha256: str = Field(pattern=SHA256, description="of the mesh as it lies")
    fixed: YesNo
    origin: Origin = Field(description="of the movement")
    matrix: Rows = Field(description="rows, mm, from as it lies to reduced")
    displacement: DisplacementRecord | None = Field(description="null: the fixed fragment")


class ReducedRecord(Record):
    """The reduction that a plan stands on."""

    case: CaseRecord = Field(description="the case whose fragments were put together")
    digest: str = Field(description="of the record of the reduction")
    trusted: YesNo
    verdict: VerdictWord
    fragments: tuple[MovedRecord, ...]
