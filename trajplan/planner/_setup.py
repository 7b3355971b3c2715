"""From a case file to everything that planning needs, loaded and checked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.arrays import as_directions, as_points
from trajplan.bone import (
    SurfaceDistance,
    as_surface,
    check_size,
    group_surface,
    make_bone,
    read_surface,
    surface_around,
)
from trajplan.checks import LIMIT_NOTES, Approach, Limits, Obstacle, Surroundings
from trajplan.errors import CaseError
from trajplan.files import Joint, check_limit_names
from trajplan.fracture import (
    fracture_from_plane,
    fracture_from_points,
    fracture_from_surface,
)
from trajplan.geometry import fit_plane
from trajplan.implants import find_screw, find_wire, load_catalogue
from trajplan.trajectory import Settings
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3
    from trajplan.bone import Bone, Surface
    from trajplan.files import Avoid, Case
    from trajplan.fracture import Fracture
    from trajplan.implants import Catalogue, Screw, Washer, Wire

__all__ = ["MeshUse", "Setup", "set_up"]


@dataclass(frozen=True, slots=True, eq=False)
class MeshUse:
    """A mesh that a plan rests on."""

    role: str
    surface: Surface
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """A case, ready for planning; lengths in mm."""

    case: Case
    bone: Bone
    fracture: Fracture
    catalogue: Catalogue
    kinds: tuple[Screw, ...]
    washers: tuple[Washer | None, ...]  # of each kind
    around: Surroundings
    limits: Limits
    settings: Settings
    meshes: tuple[MeshUse, ...]
    wires: tuple[Wire, ...]  # kinds of provisional wire
    wires_along: Vec3 | None  # normal of the joint plane that wires are to run along

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


def set_up(case: Case, *, bone: object | None = None) -> Setup:
    """Load what a case names and check that it fits together.

    Parameters
    ----------
    case : Case
        The case.
    bone : trimesh.Trimesh, pyvista.PolyData, Surface or (vertices, faces), optional
        The bone in memory, in the case's unit; the case's own mesh is then not read.

    Returns
    -------
    Setup

    Raises
    ------
    InputError
        If a mesh, the fracture, the catalogue or a limit is wrong.
    """
    check_limit_names(case, LIMIT_NOTES)
    limits = _limits(case)
    catalogue = load_catalogue(*(case.resolve(path) for path in case.catalogue))
    kinds = tuple(find_screw(catalogue, kind) for kind in case.screws.kinds)
    surface = (
        read_surface(case.resolve(case.bone.mesh), case.unit)
        if bone is None
        else as_surface(bone, case.unit, case.bone.mesh)
    )
    check_size(surface, case.unit)
    inner = (case.fracture.group,) if case.fracture.group is not None else ()
    _check_groups(case, surface)
    solid = make_bone(surface, leave_out=inner)
    fracture, fracture_mesh = _fracture(case, solid, surface)
    obstacles, obstacle_meshes = _obstacles(case, surface)
    planes = [_joint_plane(case, obstacles, name) for name in _parallels(case)]
    side = case.screws.approach
    return Setup(
        case=case,
        bone=solid,
        fracture=fracture,
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
        ),
        wires_along=planes[1],
        limits=limits,
        settings=_settings(case, limits),
        wires=tuple(find_wire(catalogue, kind) for kind in case.wires.kinds),
        meshes=(
            MeshUse("bone", surface, solid.audit.cautions),
            *fracture_mesh,
            *obstacle_meshes,
        ),
    )


def _limits(case: Case) -> Limits:
    limits = Limits(**case.limits)
    for name in ("friction", "guide_diameter"):
        if getattr(limits, name) <= 0.0:
            raise CaseError(
                "this limit is 0",
                remedy="give a number above 0",
                file=case.file,
                where=f"limits.{name}",
            )
    return limits


def _settings(case: Case, limits: Limits) -> Settings:
    return Settings(
        ring=case.screws.ring,
        tip_past=limits.tip_past,
        tip_short=limits.tip_short,
        cortex=case.bone.cortex,
        washer=case.screws.washer,
        countersink_share=limits.countersink_share,
    )


def _washers(catalogue: Catalogue, kinds: tuple[Screw, ...]) -> tuple[Washer | None, ...]:
    return tuple(
        None if screw.washer is None else catalogue.washers[screw.washer] for screw in kinds
    )


def _check_groups(case: Case, surface: Surface) -> None:
    """Refuse a group that the bone's file does not have, and list those that it has."""
    wanted = [("fracture.group", case.fracture.group)]
    wanted += [(f"joint {i}.group", joint.group) for i, joint in enumerate(case.joints, start=1)]
    for where, group in wanted:
        if group is not None and group not in surface.groups:
            there = ", ".join(surface.groups) or "none"
            raise CaseError(
                f'the bone mesh {surface.name} has no group "{group}"',
                remedy=f"name one of its groups ({there})",
                file=case.file,
                where=where,
            )


def _fracture(case: Case, bone: Bone, surface: Surface) -> tuple[Fracture, tuple[MeshUse, ...]]:
    scale = MM_PER_UNIT[case.unit]
    source = case.fracture
    if source.plane is not None:
        point = scale * np.array(source.plane.point)
        return fracture_from_plane(bone, point, np.array(source.plane.normal)), ()
    if source.points is not None:
        return fracture_from_points(bone, as_points(scale * np.array(source.points))), ()
    if source.mesh is not None:
        patch = read_surface(case.resolve(source.mesh), case.unit)
        fracture = fracture_from_surface(bone, patch)
        return fracture, (MeshUse("fracture", patch, fracture.cautions),)
    assert source.group is not None
    patch = group_surface(surface, source.group)
    return fracture_from_surface(bone, patch, source="group"), ()


def _obstacles(case: Case, surface: Surface) -> tuple[tuple[Obstacle, ...], tuple[MeshUse, ...]]:
    obstacles: list[Obstacle] = []
    meshes: list[MeshUse] = []
    named: list[tuple[Literal["joint", "avoid"], Joint | Avoid]] = [
        *(("joint", joint) for joint in case.joints),
        *(("avoid", avoid) for avoid in case.avoids),
    ]
    for role, what in named:
        if what.mesh is not None:
            patch = read_surface(case.resolve(what.mesh), case.unit)
            meshes.append(MeshUse(role, patch, ()))
        elif what.points is not None:
            points = MM_PER_UNIT[case.unit] * np.array(what.points)
            patch = surface_around(surface, points, what.radius or 0.0)
        else:
            patch = group_surface(surface, what.group or "")
        distance = SurfaceDistance.of(patch)
        obstacles.append(Obstacle(what.name, role, patch, distance, what.clearance))
    return tuple(obstacles), tuple(meshes)


def _parallels(case: Case) -> tuple[str | None, str | None]:
    """Names of the joints that screws and wires are to run parallel to."""
    return case.screws.parallel_to, case.wires.parallel_to


def _joint_plane(case: Case, obstacles: tuple[Obstacle, ...], name: str | None) -> Vec3 | None:
    """Normal of the plane fitted to a joint surface; "joint" names the only one."""
    if name is None:
        return None
    joints = [obstacle for obstacle in obstacles if obstacle.role == "joint"]
    named = [o for o in joints if o.name == name or (name == "joint" and len(joints) == 1)]
    if not named:
        there = ", ".join(f'"{joint.name}"' for joint in joints) or "none"
        raise CaseError(
            f'there is no joint "{name}" to run parallel to',
            remedy=f"name one of the joints of the case ({there})",
            file=case.file,
            where="parallel_to",
        )
    surface = named[0].surface
    return fit_plane(surface.vertices[np.unique(surface.faces)]).plane.normal
