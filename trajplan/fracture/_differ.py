"""Fragments must be bodies of their own: no copies, and none inside another."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone import Surface, SurfaceDistance, point_distance
from trajplan.errors import CaseError

if TYPE_CHECKING:
    from trajplan.bone import Bone

__all__ = ["fragments_of", "must_differ"]

#: mm; fragments that differ by less everywhere are one and the same.
SAME = 1e-3
#: Points of a fragment that are tried to tell whether it lies inside another.
SAMPLES = 256


def fragments_of(bone: Bone) -> list[Surface]:
    """Surface of each body of a bone, unused vertices dropped.

    Parameters
    ----------
    bone : Bone
        The bone.

    Returns
    -------
    list of Surface
    """
    return [_part(bone, number) for number in range(int(bone.shells.body.max()) + 1)]


def _part(bone: Bone, number: int) -> Surface:
    own = bone.shells.body[bone.shells.of_face] == number
    used, faces = np.unique(bone.surface.faces[own], return_inverse=True)
    vertices, faces = bone.surface.vertices[used], faces.reshape(-1, 3)
    freeze(vertices, faces)
    return Surface(vertices, faces, {}, f"fragment {number + 1}", bone.surface.sha256, 0)


def must_differ(bone: Bone, fragments: list[Surface], where: str) -> None:
    """Refuse a fragment that is another one, or lies within another one.

    Parameters
    ----------
    bone : Bone
        The bone.
    fragments : list of Surface
        Its bodies.
    where : str
        Key of the case that is to blame.

    Raises
    ------
    CaseError
        If two are the same, or one lies inside another.
    """
    low = np.array([part.vertices.min(axis=0) for part in fragments])
    high = np.array([part.vertices.max(axis=0) for part in fragments])
    for a, b in combinations(range(len(fragments)), 2):
        if np.abs(np.concatenate([low[a] - low[b], high[a] - high[b]])).max() < SAME and _same(
            fragments[a], fragments[b]
        ):
            raise CaseError(
                f"fragments {a + 1} and {b + 1} are the same surface",
                remedy="name each fragment's mesh once",
                where=where,
            )
        for inner, outer in ((a, b), (b, a)):
            held = (low[inner] >= low[outer]).all() and (high[inner] <= high[outer]).all()
            if held and _inside(bone, fragments[inner], outer):
                raise CaseError(
                    f"fragment {inner + 1} lies inside fragment {outer + 1}",
                    remedy="check that unit and frame of the meshes are the same",
                    where=where,
                )


def _same(a: Surface, b: Surface) -> bool:
    one = point_distance(SurfaceDistance.of(a), b.vertices).max()
    other = point_distance(SurfaceDistance.of(b), a.vertices).max()
    return bool(max(one, other) < SAME)


def _inside(bone: Bone, part: Surface, outer: int) -> bool:
    """Whether all of a fragment lies within the outermost shell of another."""
    points = part.vertices[:: max(1, len(part.vertices) // SAMPLES)]
    shells = np.flatnonzero((bone.shells.body == outer) & (bone.shells.nesting == 0))
    return any((bone.winding.number(int(shell), points) > 0.5).all() for shell in shells)
