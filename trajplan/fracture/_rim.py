"""The fracture line: where a fracture surface ends at the outside of the bone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone import Surface, SurfaceDistance, point_distance
from trajplan.fracture._edges import edges_of, pieces_of
from trajplan.fracture._loops import trace

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Vec3s
    from trajplan.bone import Bone

__all__ = ["rim_of"]


def rim_of(bone: Bone | None, surface: Surface) -> tuple[Vec3s, ...]:
    """Rim of an open surface, without its holes and without what ends at the canal.

    Parameters
    ----------
    bone : Bone, optional
        The bone; without it nothing is known of a canal.
    surface : Surface
        A fracture surface.

    Returns
    -------
    tuple of (k, 3) float arrays, mm
        Of each connected piece the longest border. It is a closed ring, the first point
        repeated at the end, unless a part of it lies nearer to a hollow of the bone than to
        its outside: that part is left out, and open lines are what is left.
    """
    edges, count = edges_of(surface.faces)
    closed, open_ = trace(edges[count == 1])
    lines = [np.array([*loop, loop[0]]) for loop in closed] + [np.array(walk) for walk in open_]
    piece = pieces_of(edges, len(surface.vertices))
    longest: dict[int, Vec3s] = {}
    for line in lines:
        rim, owner = surface.vertices[line], int(piece[line[0]])
        if owner not in longest or _length(rim) > _length(longest[owner]):
            longest[owner] = rim
    parts = [part for rim in longest.values() for part in _outside(bone, rim)]
    freeze(*parts)
    return tuple(parts)


def _length(line: Vec3s) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def _outside(bone: Bone | None, rim: Vec3s) -> list[Vec3s]:
    """Parts of a rim whose edges lie nearer to the outside of the bone than to a hollow."""
    if bone is None or not bone.shells.nesting.any():
        return [rim]
    hollow = (bone.shells.nesting % 2 == 1)[bone.shells.of_face]
    middle = 0.5 * (rim[:-1] + rim[1:])
    inner, outer = (
        point_distance(SurfaceDistance.of(_faces_of(bone.surface, kept)), middle)
        for kept in (hollow, ~hollow)
    )
    return _runs(rim, outer <= inner)


def _runs(rim: Vec3s, kept: Bools) -> list[Vec3s]:
    """Unbroken runs of the edges that are kept; a ring is turned so that none is split."""
    if kept.all():
        return [rim]
    if (rim[0] == rim[-1]).all():
        first = int(np.flatnonzero(~kept)[0])
        rim = np.concatenate([rim[first:-1], rim[: first + 1]])
        kept = np.roll(kept, -first)
    change = np.flatnonzero(np.diff(np.concatenate([[False], kept, [False]]).astype(np.int8)))
    return [rim[a : b + 1] for a, b in change.reshape(-1, 2)]


def _faces_of(surface: Surface, kept: Bools) -> Surface:
    return Surface(surface.vertices, surface.faces[kept], {}, surface.name, surface.sha256, 0)
