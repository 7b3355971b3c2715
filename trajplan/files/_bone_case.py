"""The bone in a case file: its meshes, what lies in it, and its CT."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, Strict, model_validator

from trajplan.files._case_types import Above, Direction, Number, Point, Table, Text, one_of
from trajplan.files._sentences import refuse
from trajplan.implants import shown

__all__ = ["BoneCase", "CalibrationCase", "InsideCase"]


def _bodies(value: object) -> object:
    given = list(value) if isinstance(value, list | tuple) else [value]
    for one in given:
        whole = isinstance(one, int) and not isinstance(one, bool) and one >= 1
        if not whole and not (isinstance(one, list | tuple) and len(one) == 3):
            raise refuse(
                f"found {shown(one)}",
                "name bodies by number, such as [1, 3], as `trajplan inspect` lists them, or by a "
                "point of each, such as [[0, 0, 120]]",
            )
    return given


class InsideCase(Table):
    """A body that lies in the bone and is none."""

    point: Point = Field(description="in it or near it, in the case's unit")
    what: Literal["metal", "cement"] = Field(alias="is", description="`metal` or `cement`")


class CalibrationCase(Table):
    """From HU to mg/cm³ of bone mineral, as of a phantom that was scanned along."""

    slope: Above = Field(description="mg/cm³ a HU")
    offset: Number = Field(default=0.0, description="mg/cm³ at 0 HU")


class BoneCase(Table):
    """The bone."""

    mesh: Text | None = Field(
        default=None,
        description="one of two: STL, OBJ or PLY; the fragments in place, or the bone before it "
        "broke",
    )
    fragments: Annotated[tuple[Text, ...], Field(min_length=2)] | None = Field(
        default=None, description="one of two: list of two or more meshes, one for each fragment"
    )
    cortex: Above | None = Field(
        default=None, description="mm, assumed wall, used only where no canal is modelled"
    )
    # what is broken: a shaft, or a bone end or short bone; None: not said
    place: Literal["shaft", "end"] | None = Field(
        default=None,
        description="what is broken: `shaft`, or `end` for a bone end or a short bone (ankle, "
        "condyle, neck of the femur, kneecap); said, not guessed: screws alone are "
        "judged by it, and where the shape of the bone does not tell what lies "
        "inside an assumed wall, it does: cancellous bone in an `end`, marrow in a "
        "`shaft`",
    )
    # bodies of `mesh` that are the bone: numbers as `inspect` lists them, or a point of each
    body: (
        Annotated[
            tuple[Annotated[int, Strict()] | Point, ...],
            BeforeValidator(_bodies),
            Field(min_length=1),
        ]
        | None
    ) = Field(
        default=None,
        description="bodies of `bone.mesh` that are the bone, by number as `inspect` lists them "
        "(`1` or `[1, 3]`), or by a point of each (`[[x, y, z]]`); the others are "
        "left out, and screws keep 1 mm clear of them; without it: all",
    )
    inside: tuple[InsideCase, ...] = Field(
        default=(),
        description="list of what lies in the bone and is none: `{ point = [x, y, z], is = "
        '"metal" }` or `"cement"`; nothing holds in it, and screws keep 1 mm clear '
        "of metal",
    )
    repair: tuple[Text, ...] = Field(
        default=(),
        description="list of what may be mended: `merge`, `degenerate`, `duplicate`, `stray`, "
        "`winding`, `holes`; see Repairs",
    )
    side: Literal["left", "right"] | None = Field(
        default=None,
        description="`left` or `right`: told on every output, and left and right of the body "
        "become medial and lateral",
    )
    proximal: Direction | None = Field(
        default=None,
        description="direction `[x, y, z]` towards the proximal end, roughly: entries are "
        "counted from the `proximal` and the `distal` end",
    )
    reduction: Text | None = Field(
        default=None,
        description="record of the reduction that wrote `bone.fragments`; `trajplan reduce` "
        "names it in the case that it writes",
    )
    ct: Text | None = Field(
        default=None,
        description="the CT that the meshes were made from, in LPS as they are: a folder with "
        "one DICOM series, or `.nii`, `.nii.gz`, `.nrrd`, `.mha`, `.mhd`; see "
        "`trajplan help ct`",
    )
    calibration: CalibrationCase | None = Field(
        default=None,
        description="the line from HU to bone mineral, as of a phantom that was scanned along: "
        "`{ slope = 0.79, offset = -5 }` in mg/cm³ a HU and mg/cm³ at 0 HU; without "
        "it: found in the CT",
    )

    @model_validator(mode="after")
    def _one_source(self) -> BoneCase:
        one_of(self, ("mesh", "fragments"))
        if self.body is not None and self.mesh is None:
            raise refuse(
                "body belongs to mesh, and fragments are given",
                "name only the files of the fragments that are meant",
            )
        if self.reduction is not None and self.fragments is None:
            raise refuse(
                "reduction belongs to fragments, and mesh is given",
                "name the fragments that `trajplan reduce` wrote",
            )
        return self

    @model_validator(mode="after")
    def _ct_fits(self) -> BoneCase:
        if self.calibration is not None and self.ct is None:
            raise refuse("calibration belongs to ct, and none is given", "name the CT")
        if self.ct is not None and self.reduction is not None:
            raise refuse(
                "the fragments were moved, and no longer lie where the CT shows them",
                "leave bone.ct out",
            )
        return self

    @property
    def paths(self) -> tuple[str, ...]:
        """Paths of the mesh, or of every fragment."""
        return self.fragments or (self.mesh or "",)
