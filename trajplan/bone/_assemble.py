"""Putting surfaces side by side, and leaving out the parts that are no bone."""

from __future__ import annotations

from hashlib import sha256
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._types import Shells, Surface
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Ints

__all__ = ["join_shells", "join_surfaces", "keep_faces", "leave_out_groups"]


def leave_out_groups(surface: Surface, shells: Shells, groups: Sequence[str]) -> Surface:
    """Leave out the open shells that lie wholly in the named groups.

    Parameters
    ----------
    surface : Surface
        Surface whose file names groups.
    shells : Shells
        Its pieces.
    groups : sequence of str
        Names; a name that the surface does not have changes nothing.

    Returns
    -------
    Surface
        The same surface where nothing is to be left out.

    Raises
    ------
    MeshError
        If no face is left.
    """
    named = np.zeros(len(surface.faces), dtype=bool)
    for group in groups:
        named[surface.groups.get(group, np.zeros(0, np.int64))] = True
    count = len(shells.closed)
    whole = np.bincount(shells.of_face[~named], minlength=count) == 0
    dropped: Bools = (whole & ~shells.closed)[shells.of_face]
    if not dropped.any():
        return surface
    if dropped.all():
        raise MeshError(
            f"nothing is left without the groups {', '.join(groups)}",
            remedy="give a mesh that holds the bone itself",
            file=surface.name,
        )
    return keep_faces(surface, ~dropped)


def keep_faces(surface: Surface, kept: Bools) -> Surface:
    """Keep some faces of a surface, and their groups.

    Parameters
    ----------
    surface : Surface
        The surface.
    kept : (f,) bool array
        Which.

    Returns
    -------
    Surface
        With the vertices and the digest of the whole.
    """
    number = np.cumsum(kept) - 1
    faces = surface.faces[kept]
    groups = {name: number[rows[kept[rows]]] for name, rows in surface.groups.items()}
    freeze(faces, *groups.values())
    return Surface(
        vertices=surface.vertices,
        faces=faces,
        groups=groups,
        name=surface.name,
        sha256=surface.sha256,
        merged=surface.merged,
        step=surface.step,
    )


def join_surfaces(surfaces: Sequence[Surface]) -> Surface:
    """Put surfaces side by side; no vertex of one is merged with a vertex of another.

    Parameters
    ----------
    surfaces : sequence of Surface, not empty
        Fragments.

    Returns
    -------
    Surface
        Names are joined by " + "; the digest is that of the digests; groups of the same
        name become one.
    """
    if len(surfaces) == 1:
        return surfaces[0]
    vertices = np.concatenate([surface.vertices for surface in surfaces])
    before_vertices = _before([len(surface.vertices) for surface in surfaces])
    faces = np.concatenate([s.faces + n for s, n in zip(surfaces, before_vertices, strict=True)])
    groups: dict[str, Ints] = {}
    before_faces = _before([len(surface.faces) for surface in surfaces])
    for surface, before in zip(surfaces, before_faces, strict=True):
        for name, rows in surface.groups.items():
            groups[name] = np.concatenate([groups.get(name, rows[:0]), rows + before])
    freeze(vertices, faces, *groups.values())
    return Surface(
        vertices=vertices,
        faces=faces,
        groups=groups,
        name=" + ".join(surface.name for surface in surfaces),
        sha256=sha256("".join(surface.sha256 for surface in surfaces).encode()).hexdigest(),
        merged=sum(surface.merged for surface in surfaces),
        step=max(surface.step for surface in surfaces),
    )


def join_shells(parts: Sequence[Shells]) -> Shells:
    """Shells of surfaces that are put side by side.

    Parameters
    ----------
    parts : sequence of Shells, not empty
        Shells of each surface by itself.

    Returns
    -------
    Shells
        Shells and bodies are numbered on from one surface to the next.
    """
    before_shells = _before([len(part.closed) for part in parts])
    before_bodies = _before([int(part.body.max(initial=-1)) + 1 for part in parts])
    copy = np.concatenate([part.copies() for part in parts])
    joined = Shells(
        of_face=np.concatenate([p.of_face + n for p, n in zip(parts, before_shells, strict=True)]),
        closed=np.concatenate([part.closed for part in parts]),
        wound=np.concatenate([part.wound for part in parts]),
        outward=np.concatenate([part.outward for part in parts]),
        nesting=np.concatenate([part.nesting for part in parts]),
        body=np.concatenate([p.body + n for p, n in zip(parts, before_bodies, strict=True)]),
        volume=np.concatenate([part.volume for part in parts]),
        copy=copy,
        poking=np.concatenate([part.pokes() for part in parts]),
        unsure=np.concatenate([part.doubted() for part in parts]),
    )
    freeze(
        joined.of_face, joined.closed, joined.wound, joined.outward, joined.nesting,
        joined.body, joined.volume, copy, joined.pokes(), joined.doubted(),
    )  # fmt: skip
    return joined


def _before(counts: list[int]) -> list[int]:
    """How many there are before each part."""
    return list(accumulate(counts, initial=0))[:-1]
