"""The fracture line: where a fracture surface ends at the outside of the bone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.arrays import freeze
from trajplan.bone import Surface, SurfaceDistance, point_distance, walled_in
from trajplan.fracture._edges import edges_of, pieces_of
from trajplan.fracture._loops import trace
from trajplan.fracture._normals import units

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Ints, Vec3s
    from trajplan.bone import Bone

__all__ = ["outer_lines", "rim_of"]

#: mm beyond the rim at which bone is looked for all round: past the strip at the outside that
#: a surface found between fragments leaves out (half of its finest edge, 0.75 mm), and within
#: the canal of all but the thinnest bones (past which lies bone, which answers alike).
PROBE = 2.0
#: mm within which the answers for edges of a rim vote: a canal's wall is longer, and one odd
#: edge, where the fracture meets the outside at a flat angle, is no canal.
VOTE = 4.0


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
        repeated at the end, unless a part of it does not lie at the outside: at a canal, or
        where a third fragment begins. That part is left out, and open lines are what is left.

    Notes
    -----
    A closed canal is a hollow: what lies nearer to it than to the outside is left out.
    Between fragments the canal is open; there an edge lies inside the bone where a place
    2 mm beyond it has bone all round, in three quarters of all directions and more
    (`trajplan.bone.walled_in`). Beyond the outside about half of them are open.
    """
    edges, count = edges_of(surface.faces)
    closed, open_ = trace(edges[count == 1])
    lines = [np.array([*loop, loop[0]]) for loop in closed] + [np.array(walk) for walk in open_]
    piece = pieces_of(edges, len(surface.vertices))
    longest: dict[int, Ints] = {}
    for line in lines:
        owner = int(piece[line[0]])
        if owner not in longest or _length(surface, line) > _length(surface, longest[owner]):
            longest[owner] = line
    parts = [part for line in longest.values() for part in _outside(bone, surface, line)]
    freeze(*parts)
    return tuple(parts)


def _length(surface: Surface, line: Ints) -> float:
    return float(np.linalg.norm(np.diff(surface.vertices[line], axis=0), axis=1).sum())


def _outside(bone: Bone | None, surface: Surface, line: Ints) -> list[Vec3s]:
    """Parts of a rim that lie at the outside of the bone."""
    rim = surface.vertices[line]
    if bone is None:
        return [rim]
    middle = 0.5 * (rim[:-1] + rim[1:])
    hollow = (bone.shells.nesting % 2 == 1)[bone.shells.of_face]
    if not hollow.any():
        return outer_lines(bone, rim, _away(surface, line))
    inner, outer = (
        point_distance(SurfaceDistance.of(_faces_of(bone.surface, kept)), middle)
        for kept in (hollow, ~hollow)
    )
    return _runs(rim, outer <= inner)


def outer_lines(bone: Bone, rim: Vec3s, away: Vec3s) -> list[Vec3s]:
    """Parts of a rim beyond which lies the outside of the bone, and not an open canal.

    Parameters
    ----------
    bone : Bone
        The bone.
    rim : (k, 3) float array, mm
        A line; a ring repeats its first point at the end.
    away : (k - 1, 3) float array
        Unit vectors from each edge, away from the fracture.

    Returns
    -------
    list of (m, 3) float arrays, mm
    """
    middle = 0.5 * (rim[:-1] + rim[1:])
    return _runs(rim, ~_most_near(middle, walled_in(bone.caster, middle + PROBE * away)))


def _most_near(points: Vec3s, flag: Bools) -> Bools:
    """What holds for most of the places nearby, itself counted."""
    tree = cKDTree(points)
    near = tree.sparse_distance_matrix(tree, VOTE, output_type="ndarray")
    share = np.bincount(near["i"], flag[near["j"]]) / np.bincount(near["i"])
    most: Bools = share > 0.5
    return most


def _away(surface: Surface, line: Ints) -> Vec3s:
    """Unit vectors in the surface, square to each edge of its border, away from its face."""
    tail, head = surface.faces, np.roll(surface.faces, -1, axis=1)
    base = len(surface.vertices)
    key = (np.minimum(tail, head) * base + np.maximum(tail, head)).ravel()
    apex = np.roll(surface.faces, -2, axis=1).ravel()
    order = np.argsort(key)
    wanted = np.minimum(line[:-1], line[1:]) * base + np.maximum(line[:-1], line[1:])
    third = surface.vertices[apex[order[np.searchsorted(key[order], wanted)]]]
    start, along = surface.vertices[line[:-1]], np.diff(surface.vertices[line], axis=0)
    square = np.einsum("ij,ij->i", along, along)
    share = np.einsum("ij,ij->i", third - start, along) / np.where(square > 0.0, square, 1.0)
    return units(start + share[:, None] * along - third)


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
