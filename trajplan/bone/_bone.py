"""A bone: a surface together with all that is needed to ask where lines run in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._assemble import join_shells, join_surfaces, leave_out_groups
from trajplan.bone._audit import audit
from trajplan.bone._caps import Caps, make_caps
from trajplan.bone._cast import make_caster
from trajplan.bone._edges import edge_table
from trajplan.bone._inside import Winding
from trajplan.bone._open_canal import look_for_canal
from trajplan.bone._shaft import ShaftAxis, shaft_axis
from trajplan.bone._shells import find_shells
from trajplan.bone._types import Audit, Shells, Surface
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3s
    from trajplan.bone._cast import Caster, Engine

__all__ = ["Bone", "make_bone"]


@dataclass(frozen=True, slots=True, eq=False)
class Bone:
    """A bone, ready to be cast; built by `make_bone`."""

    surface: Surface
    shells: Shells
    audit: Audit
    normals: Vec3s  # (f, 3) unit normal of each face; zero where a face has no area
    caster: Caster
    winding: Winding
    caps: Caps | None = None  # over the holes of open shells; None where all are closed
    shaft: ShaftAxis | None = None  # its long axis; None where it has nothing of a length


def make_bone(
    surface: Surface | Sequence[Surface],
    *,
    engine: Engine = "auto",
    leave_out: Sequence[str] = (),
) -> Bone:
    """Make a bone of one surface, or of one surface for each fragment.

    Parameters
    ----------
    surface : Surface or sequence of Surface
        Surfaces of fragments are put side by side; no vertex of one is merged with a vertex
        of another, so fragments that touch stay apart.
    engine : {"auto", "compiled", "plain"}
        See `make_caster`.
    leave_out : sequence of str
        Groups of the surface that are no bone, such as a fracture surface kept in the same
        file: their open pieces are left out. Where such a group is part of a larger piece,
        or closed in itself, it stays.

    Returns
    -------
    Bone

    Raises
    ------
    MeshError
        If there is no surface, or nothing is left of one.
    """
    parts = [surface] if isinstance(surface, Surface) else list(surface)
    if not parts:
        raise MeshError("no surface was given for the bone", remedy="give at least one")
    edges = [edge_table(part.faces) for part in parts]
    found = [find_shells(*part) for part in zip(parts, edges, strict=True)]
    if leave_out:
        pairs = zip(parts, found, strict=True)
        parts = [leave_out_groups(part, shells, leave_out) for part, shells in pairs]
        edges = [edge_table(part.faces) for part in parts]
        found = [find_shells(*part) for part in zip(parts, edges, strict=True)]
    whole, shells = join_surfaces(parts), join_shells(found)
    triangles = whole.triangles()
    bone = Bone(
        surface=whole,
        shells=shells,
        audit=audit(whole, shells, edges[0] if len(parts) == 1 else None, files=len(parts)),
        normals=_unit_normals(triangles),
        caster=make_caster(triangles, engine),
        winding=Winding(whole, shells),
        caps=make_caps(whole, shells, engine),
        shaft=_shaft(whole),
    )
    return bone if bone.audit.canal else replace(bone, audit=look_for_canal(bone))


def _shaft(surface: Surface) -> ShaftAxis | None:
    try:
        return shaft_axis(surface)
    except MeshError:
        return None


def _unit_normals(triangles: Floats) -> Vec3s:
    """Return the unit normal of each face; zero where a face has no area."""
    a, b, c = triangles.transpose(1, 0, 2)
    normals: Vec3s = np.cross(b - a, c - a)
    length = np.linalg.norm(normals, axis=1)[:, None]
    normals /= np.where(length > 0, length, 1.0)
    freeze(normals)
    return normals
