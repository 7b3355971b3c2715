"""From a case file to everything that planning needs, loaded and checked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.bone import (
    as_surface,
    group_surface,
    make_bone,
    read_surface,
    repair,
    shaft_axis,
)
from trajplan.checks import LIMIT_NOTES, Approach, Limits, Surroundings
from trajplan.files import check_limit_names
from trajplan.fracture import (
    fracture_between,
    fracture_from_plane,
    fracture_from_points,
    fracture_from_surface,
    reports_of_fragments,
)
from trajplan.implants import find_screw, find_wire, load_catalogue
from trajplan.mechanics import find_bone_class
from trajplan.planner._bodies import Parted, check_bodies, part_bodies, part_inner, refuse_foreign
from trajplan.planner._ct import bone_field, with_ct
from trajplan.planner._obstacles import MeshUse, joint_plane, obstacles_of
from trajplan.planner._place_records import refuse_askew_ends, refuse_far_landmarks
from trajplan.planner._pressing import fracture_regions
from trajplan.planner._reduced import reduction_of
from trajplan.planner._refusals import (
    aim_of,
    check_cortex,
    check_groups,
    limits_of,
    refuse_far,
    refuse_sizes,
    refuse_specks,
    refuse_twice,
)
from trajplan.planner._tightening import Tightening, tightening_of, turns_to_hold
from trajplan.trajectory import Settings, Within, inside_of
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3
    from trajplan.bone import Bone, ShaftAxis, Surface
    from trajplan.files import Case, ReductionFile
    from trajplan.fracture import Fracture
    from trajplan.implants import Catalogue, Screw, Washer, Wire
    from trajplan.mechanics import BoneClass, Region

__all__ = ["BoneMaker", "Setup", "parts_of", "set_up"]


class BoneMaker(Protocol):
    """Makes a bone of the surfaces of its parts."""

    def __call__(self, surface: list[Surface], /, *, leave_out: Sequence[str]) -> Bone:
        """Make a bone; `leave_out` names groups that are no bone."""


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """A case, ready for planning; lengths in mm."""

    case: Case
    bone: Bone
    shaft: ShaftAxis
    fracture: Fracture
    patch: Surface | None  # the whole fracture surface, where one was given
    catalogue: Catalogue
    kinds: tuple[Screw, ...]
    washers: tuple[Washer | None, ...]  # of each kind
    around: Surroundings
    limits: Limits
    settings: Settings
    tightening: Tightening  # what screws are tightened to
    meshes: tuple[MeshUse, ...]
    bone_class: BoneClass
    regions: tuple[Region, ...]  # of each surface between two fragments, for pressing
    wires: tuple[Wire, ...]  # kinds of provisional wire
    wires_along: Vec3 | None  # normal of the joint plane that wires are to run along
    reduction: ReductionFile | None = None  # that the fragments were put together by

    @property
    def fragment_names(self) -> tuple[str, ...]:
        """Name of each body of the bone: its file, or a number where one file holds several."""
        bodies = int(self.bone.shells.body.max()) + 1
        names = tuple(use.surface.name for use in self.meshes if use.role == "fragment")
        if len(names) == bodies:
            return names
        return tuple(f"body {number + 1}" for number in range(bodies))

    @property
    def protection(self) -> str:
        """What protects the lag screws: as the case says, or a plate that it asks for."""
        said = self.case.screws.protection
        return "plate" if said == "none" and self.case.plates else said

    def fragment_of(self, body: int) -> int:
        """Number, from 0, of the file that a body of the bone came from."""
        counts = [len(use.surface.faces) for use in self.meshes if use.role == "fragment"]
        shells = self.bone.shells
        face = int(np.argmax(shells.body[shells.of_face] == body))
        return int(np.searchsorted(np.cumsum(counts), face, side="right"))

    def with_kinds(self, kinds: Sequence[Screw]) -> Setup:
        """Plan the same case with other screws.

        Parameters
        ----------
        kinds : sequence of Screw
            Screws of the catalogue.

        Returns
        -------
        Setup
        """
        chosen = tuple(kinds)
        return replace(self, kinds=chosen, washers=_washers(self.catalogue, chosen))


def set_up(case: Case, *, bone: object | None = None, make: BoneMaker = make_bone) -> Setup:
    """Load what a case names and check that it fits together.

    Parameters
    ----------
    case : Case
        The case.
    bone : trimesh.Trimesh, pyvista.PolyData, Surface or (vertices, faces), optional
        The bone in memory, in the case's unit; the case's own mesh is then not read.
    make : callable
        Makes the bone of its surfaces, as `make_bone` does; who plans many cases of one bone
        hands in one that keeps what it made.

    Returns
    -------
    Setup

    Raises
    ------
    InputError
        If a mesh, the fracture, the catalogue or a limit is wrong.
    """
    check_limit_names(case, LIMIT_NOTES)
    limits, bone_class = limits_of(case), find_bone_class(case.mechanics.bone)
    tightening = tightening_of(case.mechanics.torque, case.mechanics.screw_friction)
    catalogue = load_catalogue(*(case.resolve(path) for path in case.catalogue))
    kinds = tuple(find_screw(catalogue, kind) for kind in case.screws.kinds)
    parts, repaired, foreign = _parts(case, bone)
    reduction = reduction_of(case, parts) if bone is None else None
    surface = parts[0]
    inner = (case.fracture.group,) if case.fracture.group is not None else ()
    check_groups(case, surface)
    solid = make(parts, leave_out=inner)
    in_canal = part_inner(solid, [solid.surface] if len(parts) == 1 else parts)
    as_read = solid.audit.cautions
    if in_canal:
        solid = make([part.surface for part in in_canal], leave_out=())
    patch = _patch(case, surface)
    fracture = _fracture(case, solid, patch, min(kind.thread_diameter for kind in kinds))
    refuse_specks(case, fracture, min(kind.thread_diameter for kind in kinds))
    names = [f"body {number + 1}" for number in range(int(solid.shells.body.max()) + 1)]
    refuse_foreign(case, solid, fracture, case.bone.fragments or names)
    obstacles, obstacle_meshes = obstacles_of(case, surface, solid.surface)
    refuse_far(case, solid, obstacles)
    refuse_sizes(case, solid, obstacles)
    refuse_far_landmarks(case, solid)
    if fracture.source != "between":  # after what is refused at once: this takes a while
        fracture = replace(fracture, reports=reports_of_fragments(solid, fracture.zones))
    for part in (*foreign, *in_canal):
        obstacles += part.obstacles
    planes = [
        joint_plane(case, obstacles, name)
        for name in (case.screws.parallel_to, case.wires.parallel_to)
    ]
    side = case.screws.approach
    shaft = solid.shaft or shaft_axis(solid.surface)
    check_cortex(case, solid, shaft)
    refuse_askew_ends(case, shaft)
    return Setup(
        case=case,
        bone=solid,
        shaft=shaft,
        fracture=fracture,
        patch=patch,
        catalogue=catalogue,
        kinds=kinds,
        washers=_washers(catalogue, kinds),
        around=Surroundings(
            bone=solid,
            zones=fracture.zones,
            obstacles=obstacles,
            approach=None
            if side is None
            else Approach(as_directions(side.direction)[0], side.cone),
            parallel=planes[0],
            shaft=shaft,
            aim=aim_of(case, shaft),
            end=case.bone.place == "end",
            reports=fracture.reports,
        ),
        wires_along=planes[1],
        reduction=reduction,
        limits=limits,
        settings=with_ct(
            _settings(case, limits, shaft, turns_to_hold(kinds, bone_class, limits, tightening)),
            bone_field(case, solid, fracture),
        ),
        tightening=tightening,
        bone_class=bone_class,
        regions=fracture_regions(fracture.zones),
        wires=tuple(find_wire(catalogue, kind) for kind in case.wires.kinds),
        meshes=(
            *_bone_uses(
                parts,
                (
                    *solid.audit.cautions,
                    *(
                        f"Before it was taken apart: {said}"
                        for said in as_read
                        if said not in solid.audit.cautions
                    ),
                    *repaired,
                    *(said for part in (*foreign, *in_canal) for said in part.cautions),
                ),
            ),
            *([MeshUse("fracture", patch, ())] if patch and case.fracture.mesh else []),
            *obstacle_meshes,
        ),
    )


def parts_of(case: Case) -> list[Surface]:
    """Read the surfaces of the bone, one for each file, repaired only as the case asks.

    Parameters
    ----------
    case : Case
        The case.

    Returns
    -------
    list of Surface
    """
    return _parts(case, None)[0]


def _parts(
    case: Case, given: object | None
) -> tuple[list[Surface], tuple[str, ...], tuple[Parted, ...]]:
    """Surfaces of the bone, one for each fragment, and what of their files is none.

    They are repaired only as the case asks.
    """
    paths = case.bone.paths
    if given is not None:
        meshes = given if isinstance(given, list) else [given]
        names = [*paths, *(f"fragment {i + 1}" for i in range(len(paths), len(meshes)))]
        parts = [
            as_surface(mesh, case.unit, name) for mesh, name in zip(meshes, names, strict=False)
        ]
    else:
        files = [case.resolve(path) for path in paths]
        refuse_twice(case, files)
        parts = [read_surface(file, case.unit) for file in files]
    log: list[str] = []
    parted = tuple(part_bodies(case, part) for part in parts)
    parts = [part.surface for part in parted]
    for i, part in enumerate(parts):
        check_bodies(case, part)
        if case.bone.repair:
            parts[i], said = repair(part, case.bone.repair)
            log += said
    return parts, tuple(log), parted


def _bone_uses(parts: list[Surface], cautions: tuple[str, ...]) -> list[MeshUse]:
    """Meshes of the bone; the audit looks at all fragments together, so its words come once."""
    role = "bone" if len(parts) == 1 else "fragment"
    return [MeshUse(role, part, cautions if i == 0 else ()) for i, part in enumerate(parts)]


def _settings(case: Case, limits: Limits, shaft: ShaftAxis, turns: float) -> Settings:
    stated = {"end": Within.CANCELLOUS, "shaft": Within.MARROW, None: None}[case.bone.place]
    return Settings(
        ring=case.screws.ring,
        tip_past=limits.tip_past,
        tip_least=limits.tip_least,
        tip_most=limits.tip_most,
        tip_short=limits.tip_short,
        tip_spare=limits.tip_spare,
        thread_clear=limits.thread_clear,
        thread_margin=limits.thread_margin,
        turns_soft=max(limits.turns_soft, turns),
        cortex=case.bone.cortex,
        inside=inside_of(shaft, stated),
        washer=case.screws.washer,
        countersink_share=limits.countersink_share,
    )


def _washers(catalogue: Catalogue, kinds: tuple[Screw, ...]) -> tuple[Washer | None, ...]:
    return tuple(
        None if screw.washer is None else catalogue.washers[screw.washer] for screw in kinds
    )


def _fracture(case: Case, bone: Bone, patch: Surface | None, thread: float) -> Fracture:
    scale = MM_PER_UNIT[case.unit]
    source = case.fracture
    if source.plane is not None:
        point = scale * np.array(source.plane.point)
        return fracture_from_plane(bone, point, np.array(source.plane.normal))
    if source.points is not None:
        return fracture_from_points(bone, as_points(scale * np.array(source.points)))
    if patch is None:
        return fracture_between(bone, thread=thread)
    named: Literal["mesh", "group"] = "mesh" if source.group is None else "group"
    return fracture_from_surface(bone, patch, source=named, thread=thread)


def _patch(case: Case, surface: Surface) -> Surface | None:
    """Fracture surface that the case names, if it names one."""
    if case.fracture.mesh is not None:
        return read_surface(case.resolve(case.fracture.mesh), case.unit)
    if case.fracture.group is not None:
        return group_surface(surface, case.fracture.group)
    return None
