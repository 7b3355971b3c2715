"""The record of meshes made of labels: what they are, and how well they can be."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from trajplan.files._origin_records import SHA256, ProgramRecord
from trajplan.files._records import Number, Record, Vector, Whole, YesNo

__all__ = ["LabelRecord", "MeshingRecord", "ModelFile", "VolumeRecord", "model_json"]

FORMAT: Final = "trajplan-model"


class VolumeRecord(Record):
    """A volume that was read."""

    name: str = Field(description="of the file or folder")
    sha256: str = Field(pattern=SHA256, description="of its bytes")
    form: str
    size: tuple[Whole, Whole, Whole] = Field(description="voxels along i, j, k")
    spacing: Vector = Field(description="mm, edges of a voxel")
    left_handed: YesNo
    cautions: tuple[str, ...] = ()


class MeshingRecord(Record):
    """How the surfaces were made, and the error that is expected of them."""

    rounds: Whole = Field(description="of a windowed sinc filter")
    pass_band: Number
    simplified: Number = Field(description="mm by which fewer faces may depart at the most")
    error_mean: Number = Field(description="mm from the surface of the label's body, expected")
    error_95: Number = Field(description="mm that 95 of 100 places keep within")


class LabelRecord(Record):
    """One closed mesh."""

    label: Whole = Field(description="in the label map")
    name: str
    mesh: str = Field(description="file name")
    sha256: str = Field(pattern=SHA256)
    faces: Whole
    volume: Number = Field(description="mm³ that the mesh encloses")
    voxels: Number = Field(description="mm³ of the voxels of the label")
    crumbs: Whole = Field(description="specks that were left out")
    crumbs_volume: Number = Field(description="mm³ of all of them")
    cut: tuple[str, ...] = Field(description="sides at which the volume ends and the bone does not")
    on_ct: Number | None = Field(
        description="share of the surface with something denser inside than outside; null: no CT"
    )


class ModelFile(Record):
    """Meshes made of labels."""

    format: Literal["trajplan-model"] = FORMAT
    version: Literal[1] = 1
    created: str = Field(description="date and time, ISO 8601; the only field that may differ")
    program: ProgramRecord
    unit: Literal["mm"] = "mm"
    frame: Literal["LPS"] = "LPS"
    labels: VolumeRecord
    ct: VolumeRecord | None
    meshing: MeshingRecord
    meshes: tuple[LabelRecord, ...] = Field(min_length=1)
    cautions: tuple[str, ...] = Field(description="to be read before any number")


def model_json(record: ModelFile) -> str:
    """A record as the text of its file.

    Parameters
    ----------
    record : ModelFile
        The record.

    Returns
    -------
    str
    """
    return record.model_dump_json(by_alias=True, indent=1) + "\n"
