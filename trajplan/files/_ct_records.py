"""Records of what a plan takes from a CT."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from trajplan.files._record_types import Maybe, Number, RangeRecord, Record, StretchRecord, Vector

__all__ = ["BoneProfileRecord", "CalibrationRecord", "CtRecord", "TurnRecord"]

#: Of a file's bytes, or of those of all slices.
SHA256 = r"^[0-9a-f]{64}$"


class CalibrationRecord(Record):
    """The line from HU to the density of bone mineral."""

    slope: Number = Field(description="mg/cm³ a HU")
    offset: Number = Field(description="mg/cm³ at 0 HU")
    spread: Number = Field(description="share by which a density may be wrong")
    origin: Literal["case", "peaks", "usual"] = Field(
        description="case: stated; peaks: air, fat and muscle of the scan; usual: assumed"
    )
    words: str


class CtRecord(Record):
    """The CT that bone was measured in."""

    name: str = Field(description="of the file or folder")
    sha256: str = Field(pattern=SHA256, description="of its bytes")
    form: str
    spacing: Vector = Field(description="mm, edges of a voxel")
    kilovolts: Maybe = Field(default=None, description="null: not stated")
    calibration: CalibrationRecord
    cortex_hu: Maybe = Field(
        default=None, description="HU of the thickest cortex; null: walls are not measured"
    )
    cortex: RangeRecord = Field(description="g/cm³ of the same, apparent density")
    blur: Maybe = Field(default=None, description="mm, full width at half height")
    offset: Maybe = Field(
        default=None, description="mm, from the mesh inwards to the edge of the bone in the CT"
    )
    cautions: tuple[str, ...] = ()


class TurnRecord(StretchRecord):
    """A turn of the thread beyond the fracture."""

    density: RangeRecord = Field(description="g/cm³ of the bone that it bites")
    holding: RangeRecord = Field(description="N")


class BoneProfileRecord(Record):
    """The bone that a thread bites, turn by turn, as the CT shows it."""

    turns: tuple[TurnRecord, ...]
    half: Maybe = Field(
        default=None, description="mm from the entry, by which half of the hold is reached"
    )
    weakest: StretchRecord | None = Field(
        default=None, description="the three turns in a row that hold least"
    )
    median: Maybe = Field(
        default=None, description="hold over that of the middle candidate; null: axes were given"
    )
