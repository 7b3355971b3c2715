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

    point: Point  # in it or near it, in the case's unit
    what: Literal["metal", "cement"] = Field(alias="is")


class CalibrationCase(Table):
    """From HU to mg/cm³ of bone mineral, as of a phantom that was scanned along."""

    slope: Above  # mg/cm³ a HU
    offset: Number = 0.0  # mg/cm³ at 0 HU


class BoneCase(Table):
    """The bone."""

    mesh: Text | None = None  # path, relative to the case file
    fragments: Annotated[tuple[Text, ...], Field(min_length=2)] | None = None  # paths
    cortex: Above | None = None  # mm, assumed wall, only where no canal is modelled
    # what is broken: a shaft, or a bone end or short bone; None: not said
    place: Literal["shaft", "end"] | None = None
    # bodies of `mesh` that are the bone: numbers as `inspect` lists them, or a point of each
    body: (
        Annotated[
            tuple[Annotated[int, Strict()] | Point, ...],
            BeforeValidator(_bodies),
            Field(min_length=1),
        ]
        | None
    ) = None
    inside: tuple[InsideCase, ...] = ()  # bodies in the bone that are no bone
    repair: tuple[Text, ...] = ()  # steps of `trajplan.bone.repair`; nothing else is mended
    side: Literal["left", "right"] | None = None  # of the body
    proximal: Direction | None = None  # towards the proximal end, roughly
    reduction: Text | None = None  # path of the record by which the fragments were reduced
    ct: Text | None = None  # path of the CT that the meshes were made from; in LPS, as they
    calibration: CalibrationCase | None = None  # of the CT; by default found in it

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
