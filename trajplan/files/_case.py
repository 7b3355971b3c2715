"""The case file: what is known before planning."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import (
    Field,
    PrivateAttr,
    Strict,
    ValidationError,
    model_validator,
)

from trajplan.errors import CaseError
from trajplan.files._bone_case import BoneCase, CalibrationCase, InsideCase
from trajplan.files._case_types import (
    Above,
    Direction,
    FragmentNumber,
    Label,
    Limit,
    Point,
    Table,
    Text,
    one_of,
)
from trajplan.files._changes import changes_bytes, merged
from trajplan.files._plate_case import PlateCase  # noqa: TC001 - read at run time
from trajplan.files._sentences import refuse, sentence
from trajplan.files._wish_case import (
    Approach,
    MechanicsCase,
    PlacementCase,
    ScrewCase,
    WeightCase,
    WireCase,
)
from trajplan.implants import nearest, parse_toml, read_bytes
from trajplan.units import Unit  # noqa: TC001 - pydantic reads the annotation at run time

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = [
    "Approach",
    "Avoid",
    "BoneCase",
    "CalibrationCase",
    "Case",
    "FractureCase",
    "HintCase",
    "InsideCase",
    "Joint",
    "LandmarkCase",
    "MechanicsCase",
    "PlacementCase",
    "PlaneCase",
    "ReductionCase",
    "ScrewCase",
    "WeightCase",
    "WireCase",
    "case_schema",
    "check_limit_names",
    "read_case",
]


class PlaneCase(Table):
    """A plane, in the case's unit."""

    point: Point = Field(description="in the case's unit")
    normal: Direction = Field(description="of the plane, of any length")


class FractureCase(Table):
    """Exactly one source of the fracture."""

    plane: PlaneCase | None = Field(
        default=None, description="one of five: `{ point = [x, y, z], normal = [x, y, z] }`"
    )
    points: Annotated[tuple[Point, ...], Field(min_length=3)] | None = Field(
        default=None,
        description="one of five: three or more points picked on the fracture line, spread "
        "round the bone; a strip or picks that leave the normal open are refused",
    )
    mesh: Text | None = Field(
        default=None, description="one of five: open patch of the fracture surface"
    )
    group: Text | None = Field(
        default=None, description="one of five: group or object of the bone's OBJ"
    )
    between: Literal[True] | None = Field(
        default=None, description="one of five: `true`: the facing surfaces of `bone.fragments`"
    )
    pulled_apart: Annotated[bool, Strict()] = Field(
        default=False,
        description="`true`: a tendon or ligament pulls the fragments apart, as of a kneecap "
        "broken across",
    )

    @model_validator(mode="after")
    def _one_source(self) -> FractureCase:
        one_of(self, ("plane", "points", "mesh", "group", "between"))
        return self


class Joint(Table):
    """A joint surface that screws stay clear of."""

    name: Text = Field(description="shown in findings")
    mesh: Text | None = Field(default=None, description="one of three: surface of the joint")
    group: Text | None = Field(
        default=None, description="one of three: group or object of the bone's OBJ"
    )
    points: Annotated[tuple[Point, ...], Field(min_length=1)] | None = Field(
        default=None,
        description="one of three: points picked on the bone's own joint surface, with "
        "`joint.radius`",
    )
    radius: Above | None = Field(
        default=None, description="mm round the points that belong to the joint"
    )
    clearance: Above = Field(
        default=5.0,
        description="mm that every screw keeps from it; near a hole of the surface, or where it "
        "lies in crumbs, `unknown`",
    )

    @model_validator(mode="after")
    def _one_source(self) -> Joint:
        one_of(self, ("mesh", "group", "points"))
        if (self.points is None) != (self.radius is None):
            raise refuse(
                "points and radius belong together", "give both, or the joint's mesh or group"
            )
        return self


class Avoid(Table):
    """A structure that screws stay clear of."""

    name: Text = Field(description="shown in findings")
    mesh: Text = Field(description="its surface")
    clearance: Above = Field(
        default=5.0,
        description="mm that every screw keeps from it; near a hole, or inside a vessel open at "
        "its ends, `unknown`",
    )


class LandmarkCase(Table):
    """A place on the bone that hands can find."""

    name: Text = Field(description="shown where entries are told")
    point: Point = Field(description="`[x, y, z]`, at most 200 mm from the bone")


class HintCase(Table):
    """Two points that belong together, roughly, as the fragments lie."""

    fragments: tuple[FragmentNumber, FragmentNumber] = Field(description="two of them, by number")
    points: tuple[Point, Point] = Field(
        description="one on either fragment as they lie, in the case's unit"
    )

    @model_validator(mode="after")
    def _two(self) -> HintCase:
        if self.fragments[0] == self.fragments[1]:
            raise refuse(
                f"fragment {self.fragments[0]} is named twice", "name two different fragments"
            )
        return self


class ReductionCase(Table):
    """How displaced fragments are to be put together."""

    fixed: FragmentNumber | None = Field(
        default=None,
        description="fragment that stays, by its number in `bone.fragments`, from 1; `trajplan "
        "reduce` alone reads this table; without it: the largest",
    )
    template: Text | None = Field(
        default=None,
        description="mesh of the other side, or of the same bone before it broke: tells length "
        "and turn",
    )
    mirror: Annotated[bool, Strict()] = Field(
        default=False, description="`true`: the template is the other side, and is mirrored"
    )
    hints: tuple[HintCase, ...] = Field(
        default=(),
        description="`[[reduction.hints]]` with `fragments = [1, 2]` and `points`, one on "
        "either as they lie, that belong together, within 10 mm",
    )
    order: tuple[FragmentNumber, ...] = Field(
        default=(),
        description="numbers of all fragments in the order in which they are put together; "
        "without it: found",
    )

    @model_validator(mode="after")
    def _fits_together(self) -> ReductionCase:
        if self.mirror and self.template is None:
            raise refuse("mirror belongs to template, and none is given", "name the template")
        twice = next((one for one in self.order if self.order.count(one) > 1), None)
        if twice is not None:
            raise refuse(f"order names fragment {twice} twice", "name each fragment once")
        return self


class Case(Table):
    """A case; points in its own `unit`, settings in mm and degrees."""

    title: Label = Field(default="", description="shown on every output")
    unit: Unit = Field(description="of meshes and points: `mm`, `cm`, `m`, `inch`")
    frame: Label = Field(
        default="",
        description="label of the frame, such as `LPS` or `RAS`: every picture and section says "
        "by its letters which way it looks",
    )
    catalogue: tuple[Text, ...] = Field(
        default=(), description="list of catalogue files of your own"
    )
    bone: BoneCase = Field(description="the bone")
    fracture: FractureCase = Field(description="where the fracture runs")
    reduction: ReductionCase = Field(
        default=ReductionCase(), description="how displaced fragments are put together"
    )
    joints: tuple[Joint, ...] = Field(
        default=(), alias="joint", description="`[[joint]]` for each joint surface"
    )
    avoids: tuple[Avoid, ...] = Field(
        default=(), alias="avoid", description="`[[avoid]]` for each soft structure"
    )
    landmarks: tuple[LandmarkCase, ...] = Field(
        default=(),
        alias="landmark",
        description="`[[landmark]]` for each place that hands can find: entries are told from it",
    )
    screws: ScrewCase = Field(default=ScrewCase(), description="the screws that are wanted")
    wires: WireCase = Field(default=WireCase(), description="the wires that are wanted")
    plates: tuple[PlateCase, ...] = Field(
        default=(), alias="plate", description="`[[plate]]` for each plate"
    )
    mechanics: MechanicsCase = Field(
        default=MechanicsCase(), description="what the bone is taken for, and loads to try"
    )
    placement: PlacementCase = Field(
        default=PlacementCase(), description="how hands err, and how often that is tried"
    )
    weights: WeightCase = Field(
        default=WeightCase(), description="what counts in the choice of screws, each 0 or more"
    )
    limits: dict[str, Limit] = Field(
        default={}, description="any limit of `trajplan help limits`, by name"
    )

    _file: Path = PrivateAttr(default=Path())
    _sha256: str = PrivateAttr(default="")

    def model_post_init(self, context: Any, /) -> None:  # noqa: ANN401 - as pydantic names it
        """Remember the file that the case was read from."""
        if context is not None:
            self._file = context["file"]
            self._sha256 = context["sha256"]

    @property
    def file(self) -> Path:
        """The case file; the current folder for a case made in memory."""
        return self._file

    @property
    def sha256(self) -> str:
        """Of the file's bytes and of what was changed; empty for a case made in memory."""
        return self._sha256

    def resolve(self, path: str) -> Path:
        """Where a path of the case leads: relative paths start at the case file.

        Parameters
        ----------
        path : str
            A path as the case gives it.

        Returns
        -------
        Path
        """
        return self._file.parent / path

    @model_validator(mode="after")
    def _something_holds(self) -> Case:
        if self.screws.count == 0 and not self.plates:
            raise refuse(
                "no screw is wanted, and no plate", "give screws.count, or a [[plate]] that holds"
            )
        return self

    @model_validator(mode="after")
    def _names_differ(self) -> Case:
        names = [joint.name for joint in self.joints] + [avoid.name for avoid in self.avoids]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise refuse(
                f'two joints or structures are named "{twice}"',
                "give each joint and avoid a name of its own",
            )
        names = [landmark.name for landmark in self.landmarks]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise refuse(
                f'two landmarks are named "{twice}"', "give each landmark a name of its own"
            )
        return self


def read_case(path: str | Path, changes: Mapping[str, Any] | None = None) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        TOML file.
    changes : mapping, optional
        Keys of the case, tables nested, that differ from the file; see `merged`. They are
        part of the case's sha256.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        If the file is missing or no TOML, or a key is unknown, missing or wrong.
    """
    path, changes = Path(path), changes or {}
    content = read_bytes(path, CaseError)
    data = merged(parse_toml(content, path, CaseError), changes)
    digest = hashlib.sha256(content + changes_bytes(changes)).hexdigest()
    try:
        return Case.model_validate(data, context={"file": path, "sha256": digest})
    except ValidationError as error:
        where, found, remedy = sentence(error, Case)
        raise CaseError(found, remedy=remedy, file=path, where=where) from None


def check_limit_names(case: Case, known: Iterable[str]) -> None:
    """Refuse a limit that no rule knows.

    Parameters
    ----------
    case : Case
        The case.
    known : iterable of str
        Names of the limits that may be set.

    Raises
    ------
    CaseError
        If ``[limits]`` holds another name.
    """
    names = list(known)
    for name in case.limits:
        if name not in names:
            raise CaseError(
                "no rule knows this limit",
                remedy=nearest(name, names),
                file=case.file if case.sha256 else None,
                where=f"limits.{name}",
            )


def case_schema() -> dict[str, Any]:
    """JSON Schema of a case file, as it ships in the package: an editor shows its descriptions.

    Returns
    -------
    dict
    """
    schema = Case.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
