"""Which bodies of the meshes are the bone, and what becomes of the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import (
    Volume,
    bone_sized,
    check_size,
    find_shells,
    inner_shells,
    keep_faces,
    list_bodies,
    shell_at,
)
from trajplan.checks import Obstacle, as_obstacle
from trajplan.errors import CaseError, MeshError
from trajplan.fracture import foreign_bodies
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.bone import Body, Bone, Shells, Surface
    from trajplan.files import Case
    from trajplan.fracture import Fracture

__all__ = ["Parted", "check_bodies", "part_bodies", "part_inner", "refuse_foreign"]

#: mm that screws keep from a body of the mesh that is no bone of the case (assumption: what a
#: segmentation may be off).
KEPT_CLEAR = 1.0
#: Bodies that a refusal names at the most.
TOLD = 3
#: mm from a body beyond which a point means none.
NEAR_BODY = 5.0
#: Share of the largest body's area below which one that is left out is a stray piece, and
#: nothing to keep clear of; the same as in the repair of that name.
STRAY = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """The bone of a mesh, and what of the mesh is none."""

    surface: Surface
    obstacles: tuple[Obstacle, ...] = ()
    cautions: tuple[str, ...] = ()


def part_bodies(case: Case, surface: Surface) -> Parted:
    """Take the bodies that the case names out of its mesh.

    Parameters
    ----------
    case : Case
        The case.
    surface : Surface
        Its mesh, as read.

    Returns
    -------
    Parted
        The whole mesh where the case names no body. Bodies that are left out, and metal in
        the bone, are obstacles that screws keep clear of.

    Raises
    ------
    CaseError
        If no body has a number, or lies near a point.
    """
    if case.bone.body is None and not case.bone.inside:
        return Parted(surface)
    shells = find_shells(surface)
    bodies = list_bodies(surface, shells)
    kept, obstacles, cautions = np.ones(len(surface.faces), dtype=np.bool_), [], []
    for i, entry in enumerate(case.bone.inside, start=1):
        shell = _shell(case, surface, shells, entry.point, f"bone.inside {i}.point")
        outer = shells.nesting[shell] == 0
        own = shells.of_face == shell
        if outer:  # with all that lies in it
            own = shells.body[shells.of_face] == shells.body[shell]
        if shells.nesting[shell] % 2 == 0:  # the hollow that it fills stays a hollow
            kept &= ~own
        if entry.what == "metal":
            obstacles.append(_obstacle(keep_faces(surface, own), f"metal {i} in the bone"))
        cautions.append(_SAID[entry.what])
    for body in () if case.bone.body is None else _left_out(case, surface, shells, bodies):
        own = shells.body[shells.of_face] == body.number - 1
        name = f"{body.label} of {surface.name}"
        if kept[own].any() and body.area >= STRAY * max(other.area for other in bodies):
            obstacles.append(_obstacle(keep_faces(surface, own), f"body {body.number}"))
            cautions.append(
                f"{_capital(name)} is left out, as bone.body asks: screws keep {KEPT_CLEAR:g} mm "
                "clear of it."
            )
        kept &= ~own
    if case.fracture.group is not None:  # a fracture surface in the same file is a body too
        kept[surface.groups.get(case.fracture.group, np.zeros(0, np.int64))] = True
    if not kept.any():
        raise CaseError(
            "bone.inside leaves nothing of the bone",
            remedy="give a point of the metal or cement itself",
            file=case.file,
            where="bone.inside",
        )
    return Parted(keep_faces(surface, kept), tuple(obstacles), tuple(cautions))


_SAID = {
    "metal": "Metal in the bone is no bone, as bone.inside says: nothing holds in it, and screws "
    f"keep {KEPT_CLEAR:g} mm clear of it.",
    "cement": "Cement in the bone is no bone, as bone.inside says: thread in it counts for "
    "nothing.",
}


def _left_out(case: Case, surface: Surface, shells: Shells, bodies: Sequence[Body]) -> list[Body]:
    """Bodies that the case does not name."""
    wanted = set()
    for one in case.bone.body or ():
        if isinstance(one, int):
            wanted.add(one)
        else:
            wanted.add(int(shells.body[_shell(case, surface, shells, one, "bone.body")]) + 1)
    wrong = sorted(wanted - {body.number for body in bodies})
    if wrong:
        count = "one body" if len(bodies) == 1 else f"{len(bodies)} bodies"
        raise CaseError(
            f"{surface.name} has {count}, and no body {wrong[0]}",
            remedy=f"give numbers up to {len(bodies)}; `trajplan inspect` lists them",
            file=case.file,
            where="bone.body",
        )
    return [body for body in bodies if body.number not in wanted]


def _shell(
    case: Case, surface: Surface, shells: Shells, point: tuple[float, float, float], where: str
) -> int:
    shell, away = shell_at(surface, shells, MM_PER_UNIT[case.unit] * np.array(point))
    if away > NEAR_BODY and not _holds(surface, shells, shell, case, point):
        raise CaseError(
            f"no body lies at this point: the nearest surface is {away:.1f} mm away",
            remedy="give a point in the body or on its surface, in the unit of the case",
            file=case.file,
            where=where,
        )
    return shell


def _holds(
    surface: Surface,
    shells: Shells,
    shell: int,
    case: Case,
    point: tuple[float, float, float],
) -> bool:
    volume = Volume.of(keep_faces(surface, shells.of_face == shell))
    at = MM_PER_UNIT[case.unit] * np.array([point])
    return bool(volume.contains(at)[0])


def _obstacle(surface: Surface, name: str) -> Obstacle:
    return as_obstacle(name, "avoid", surface, KEPT_CLEAR)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def check_bodies(case: Case, surface: Surface) -> None:
    """Refuse a size that no bone has; where single bodies are bones, say how one is taken.

    Parameters
    ----------
    case : Case
        The case.
    surface : Surface
        The mesh, or what the case took of it.

    Raises
    ------
    InputError
        As `check_size`, and if the mesh holds several bodies that together are no bone.
    """
    try:
        check_size(surface, case.unit)
    except MeshError:
        bodies = list_bodies(surface, find_shells(surface))
        if len(bodies) == 1 or case.bone.mesh is None or not any(map(bone_sized, bodies)):
            raise
        told = [body.label for body in sorted(bodies, key=lambda body: -body.area)]
        raise CaseError(
            f"the mesh {surface.name} holds {len(bodies)} bodies that together are no one bone: "
            + _few(told),
            remedy="take one with bone.body; `trajplan inspect` lists them",
            file=case.file,
            where="bone.mesh",
        ) from None


def _few(told: Sequence[str]) -> str:
    rest = f" and {len(told) - TOLD} more" if len(told) > TOLD else ""
    return ", ".join(told[:TOLD]) + rest


def part_inner(bone: Bone, parts: list[Surface]) -> list[Parted]:
    """Take out of a bone what lies in its canal and is not declared: it is no bone.

    Parameters
    ----------
    bone : Bone
        The bone.
    parts : list of Surface
        What it was made of, face by face.

    Returns
    -------
    list of Parted
        One for each part; empty where nothing lies in a canal.
    """
    inner = inner_shells(bone.shells)
    if len(inner) == 0:
        return []
    own = np.isin(bone.shells.of_face, inner)
    body = keep_faces(bone.surface, own)
    caution = (
        f"In the canal lies {', '.join(one.label for one in list_bodies(body, find_shells(body)))}"
        ": a nail, cement or a loose piece. It is taken for no bone, and screws keep clear of it; "
        "say what it is with bone.inside."
    )
    ends = np.cumsum([len(part.faces) for part in parts])[:-1]
    kept = [keep_faces(part, ~mine) for part, mine in zip(parts, np.split(own, ends), strict=True)]
    first = Parted(kept[0], (_obstacle(body, "what lies in the canal"),), (caution,))
    return [first, *(Parted(surface) for surface in kept[1:])]


def refuse_foreign(case: Case, bone: Bone, fracture: Fracture, names: Sequence[str]) -> None:
    """Refuse bodies that the fracture does not part: another bone, or a stray piece.

    Parameters
    ----------
    case : Case
        The case.
    bone : Bone
        The bone.
    fracture : Fracture
        Its fracture.
    names : sequence of str
        Name of each body.

    Raises
    ------
    CaseError
        If there is one.
    """
    foreign = set(foreign_bodies(bone, fracture.zones).tolist())
    if not foreign:
        return
    bodies = list_bodies(bone.surface, bone.shells)
    told = [body.label for body in bodies if body.number - 1 in foreign]
    if case.bone.mesh is None:
        which = [names[number] for number in sorted(foreign)]
        remedy = (
            f"leave {', '.join(which)} out of bone.fragments, or put the fragments together with "
            "`trajplan reduce CASE --out DIR`"
        )
    else:
        own = ", ".join(str(b.number) for b in bodies if b.number - 1 not in foreign)
        remedy = (
            f"take the bone alone: bone.body = [{own}]"
            if case.bone.body is None
            else "name only the bodies that meet at the fracture"
        )
    faces = "it faces" if len(told) == 1 else "they face"
    raise CaseError(
        f"{_few(told)}: {faces} no other body across the fracture: another bone, "
        "a stray piece, or a fragment too far off",
        remedy=remedy,
        file=case.file,
        where="bone",
    )
