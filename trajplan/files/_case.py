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
    Number,
    Point,
    Table,
    Text,
    one_of,
)
from trajplan.files._changes import changes_bytes, merged
from trajplan.files._plate_case import PlateCase  # noqa: TC001 - read at run time
from trajplan.files._sentences import refuse, sentence
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
    "check_limit_names",
    "read_case",
]


class PlaneCase(Table):
    """A plane, in the case's unit."""

    point: Point
    normal: Direction


class FractureCase(Table):
    """Exactly one source of the fracture."""

    plane: PlaneCase | None = None
    points: Annotated[tuple[Point, ...], Field(min_length=3)] | None = None  # the case's unit
    mesh: Text | None = None  # path, relative to the case file
    group: Text | None = None  # group or object of the bone's OBJ
    between: Literal[True] | None = None  # the facing surfaces of the fragments
    pulled_apart: Annotated[bool, Strict()] = False  # by a tendon or ligament, as a kneecap

    @model_validator(mode="after")
    def _one_source(self) -> FractureCase:
        one_of(self, ("plane", "points", "mesh", "group", "between"))
        return self


class Joint(Table):
    """A joint surface that screws stay clear of."""

    name: Text
    mesh: Text | None = None  # path, relative to the case file
    group: Text | None = None  # group or object of the bone's OBJ
    points: Annotated[tuple[Point, ...], Field(min_length=1)] | None = None  # the case's unit
    radius: Above | None = None  # mm round the points, with `points`
    clearance: Above = 5.0  # mm

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

    name: Text
    mesh: Text  # path, relative to the case file
    clearance: Above = 5.0  # mm


class LandmarkCase(Table):
    """A place on the bone that hands can find."""

    name: Text
    point: Point  # in the case's unit


class Approach(Table):
    """Side from which the bone can be reached."""

    direction: Direction  # from the bone towards the surgeon
    cone: Annotated[float, Strict(), Field(gt=0, le=180)]  # degrees, half-angle


class ScrewCase(Table):
    """The screws that are wanted."""

    count: Annotated[int, Strict(), Field(ge=0, le=6)] = 2  # 0: a plate does it without
    kinds: Annotated[tuple[Text, ...], Field(min_length=1)] = ("HA4.5",)
    technique: Literal["lag", "position"] = "lag"
    # by thread: a shallow thread holds in both cortices, a deep one stops in soft end-bone
    hold: Literal["bicortical", "unicortical", "by thread"] = "by thread"
    washer: Annotated[bool, Strict()] = False
    # what screws stand square to; midway, or square to the bone, they bear load along the shaft
    aim: Literal["to the fracture", "between", "to the bone"] = "to the fracture"
    protection: Literal["none", "plate", "cast", "buttress", "tension band"] = "none"
    approach: Approach | None = None
    parallel_to: Text | None = None  # name of a joint, or "joint" for the only one
    candidates: Annotated[int, Strict(), Field(ge=50, le=200_000)] = 2000
    ring: Annotated[int, Strict(), Field(ge=8, le=256)] = 16  # rays around each axis


class WireCase(Table):
    """The provisional wires that are wanted."""

    count: Annotated[int, Strict(), Field(ge=0, le=6)] = 0
    kinds: Annotated[tuple[Text, ...], Field(min_length=1)] = ("W1.6",)
    parallel_to: Text | None = None  # name of a joint, or "joint" for the only one


class MechanicsCase(Table):
    """What the bone is taken for, and loads to try."""

    bone: Text = "normal"  # a bone class of `trajplan.mechanics`
    axial: Number = 0.0  # N along the shaft, positive pushes the fragments together
    bending: Limit = 0.0  # N mm
    bending_axis: Direction | None = None  # the axis that it bends about
    torsion: Number = 0.0  # N mm about the shaft
    torque: Above | None = None  # N m that screws are tightened to; by default by their cores
    screw_friction: Above | None = None  # of screw on bone; by default 0.3


class PlacementCase(Table):
    """How hands err, and how often they are tried."""

    way: Literal["free hand", "sleeve", "guide"] = "free hand"
    entry: Limit | None = None  # mm, standard deviation along each of two directions
    direction: Limit | None = None  # degrees, about each of two axes, whatever the slant
    plunge: Limit = 5.1  # mm, on average
    draws: Annotated[int, Strict(), Field(ge=0, le=100_000)] = 500  # 0: do not try
    seed: Annotated[int, Strict(), Field(ge=0)] = 0


class WeightCase(Table):
    """What counts in the choice of screws, each 0 or more."""

    geometry: Limit = 1.0
    contact: Limit = 1.0
    slip: Limit = 1.0
    holding: Limit = 1.0
    forgiving: Limit = 1.0


class HintCase(Table):
    """Two points that belong together, roughly, as the fragments lie."""

    fragments: tuple[FragmentNumber, FragmentNumber]
    points: tuple[Point, Point]  # one on either fragment, in the case's unit

    @model_validator(mode="after")
    def _two(self) -> HintCase:
        if self.fragments[0] == self.fragments[1]:
            raise refuse(
                f"fragment {self.fragments[0]} is named twice", "name two different fragments"
            )
        return self


class ReductionCase(Table):
    """How displaced fragments are to be put together."""

    fixed: FragmentNumber | None = None  # stays; by default the largest
    template: Text | None = None  # path: the other side, or the same bone before it broke
    mirror: Annotated[bool, Strict()] = False  # the template is the other side
    hints: tuple[HintCase, ...] = ()
    order: tuple[FragmentNumber, ...] = ()  # in which they are put together; empty: found

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

    title: Label = ""
    unit: Unit
    frame: Label = ""  # a label, carried through, never applied
    catalogue: tuple[Text, ...] = ()  # paths, relative to the case file
    bone: BoneCase
    fracture: FractureCase
    reduction: ReductionCase = ReductionCase()  # read by `trajplan reduce` alone
    joints: tuple[Joint, ...] = Field(default=(), alias="joint")
    avoids: tuple[Avoid, ...] = Field(default=(), alias="avoid")
    landmarks: tuple[LandmarkCase, ...] = Field(default=(), alias="landmark")
    screws: ScrewCase = ScrewCase()
    wires: WireCase = WireCase()
    plates: tuple[PlateCase, ...] = Field(default=(), alias="plate")
    mechanics: MechanicsCase = MechanicsCase()
    placement: PlacementCase = PlacementCase()
    weights: WeightCase = WeightCase()
    limits: dict[str, Limit] = Field(default={})

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
