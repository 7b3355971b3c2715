"""The normal of a fracture surface itself, round a point of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.arrays import freeze
from trajplan.bone import oriented
from trajplan.fracture._edges import pieces_of, sharing
from trajplan.fracture._refine import refine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone import Surface

__all__ = ["LOCAL_REACH", "Pieces", "local_normals", "pieces_of_zones"]

#: Thread diameters round a crossing within which the surface counts for its normal: about the
#: ground that a screw's head presses (a head is two threads wide), and wide enough for noise.
#: Heights of deviation ``s`` that hold together over a length ``c`` turn the mean normal of a
#: disc by about ``s sqrt(c / pi) / R ** 1.5``: by less than a degree for 0.5 mm over 2 mm under
#: a 4.5 mm thread, and by 2.4 degrees at half that radius.
LOCAL_REACH = 2.0
#: Where less surface than a disc so many thread diameters across lies within reach, as over a
#: canal, the reach is widened, up to the last of these times; past it no normal is given.
LEAST_DISC = 2.0
WIDENED = (1.0, 1.5, 2.0)
#: Length of a sum of area vectors, over the sum of their lengths, below which the surface
#: contradicts itself, as the two sides of a thin closed sheet do (assumption: a surface all
#: steep flanks of 60 degrees still has 0.5).
LEAST_LENGTH = 0.4
#: mm; longest edge of the parts that a surface is cut into, and side of the cells that gather
#: them: small against the reach of all but the thinnest screws (5.4 mm for a 2.7 mm thread; half
#: of that of a 1.5 mm thread).
PART = 1.5
#: Cells of a surface at most, about: far more than any bone has, and few enough for a patch in
#: the wrong unit.
CELLS = 50_000


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """A surface in small pieces, for sums over the surroundings of a point."""

    middles: Vec3s  # (k, 3) mm, weighted with area
    vectors: Vec3s  # (k, 3) mm², area times normal
    areas: Floats  # (k,) mm²


def pieces_of_zones(surface: Surface, parts: Sequence[Ints], normals: Vec3s) -> list[Pieces]:
    """Gather a fracture surface in small cells, turned to the side of each zone's normal.

    Parameters
    ----------
    surface : Surface
        The whole fracture surface.
    parts : sequence of int arrays, length z
        Faces of each zone.
    normals : (z, 3) float array
        Unit normal of each zone.

    Returns
    -------
    list of Pieces
        One for each zone. Faces that hang together are wound alike before they are summed,
        so that the steep flanks of a rough surface cancel as they should.
    """
    faces = oriented(surface.faces)
    sheet = pieces_of(sharing(faces), len(faces))
    a, b, c = surface.vertices[faces].transpose(1, 0, 2)
    whole = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    part = max(PART, float(np.sqrt(whole / CELLS)))
    points, small, source = refine(surface.vertices, faces, part)
    a, b, c = points[small].transpose(1, 0, 2)
    middles, vectors = (a + b + c) / 3.0, 0.5 * np.cross(b - a, c - a)
    areas = np.linalg.norm(vectors, axis=1)
    cell = np.unique(np.floor(middles / part), axis=0, return_inverse=True)[1].reshape(-1)
    area = _summed(cell, areas[:, None])[:, 0]
    kept = area > 0.0
    middle = _summed(cell, areas[:, None] * middles)[kept] / area[kept, None]
    area = area[kept]
    freeze(middle, area)
    gathered = []
    for rows, normal in zip(parts, normals, strict=True):
        own = np.zeros(len(faces), dtype=np.bool_)
        own[rows] = True
        along = np.bincount(sheet[source], np.where(own[source], vectors @ normal, 0.0))
        sign = np.where(along < 0.0, -1.0, 1.0)[sheet[source], None]
        vector = _summed(cell, sign * vectors)[kept]
        freeze(vector)
        gathered.append(Pieces(middle, vector, area))
    return gathered


def _summed(cell: Ints, columns: Floats) -> Floats:
    """Sum of the rows of each cell."""
    return np.stack([np.bincount(cell, column) for column in columns.T], axis=1)


def local_normals(pieces: Pieces, points: Vec3s, thread: Floats) -> Vec3s:
    """Area-weighted normal of a surface round points, as a screw there meets it.

    Parameters
    ----------
    pieces : Pieces
        The surface, as from `pieces_of_zones`.
    points : (n, 3) float array, mm
        Where screws cross it; NaN where they do not.
    thread : (n,) float array, mm
        Their thread diameters.

    Returns
    -------
    (n, 3) float array
        Unit normals; NaN where too little surface lies round the point.

    Notes
    -----
    A piece at the distance ``d`` counts by its area times ``1 - (d / R)²``, ``R`` two thread
    diameters: without an edge, so that a small shift of the screw moves the normal little.
    """
    normals = np.full((len(points), 3), np.nan)
    left = np.flatnonzero(np.isfinite(points).all(axis=1))
    for wider in WIDENED:
        if len(left) == 0:
            break
        reach = wider * LOCAL_REACH * thread[left]
        area, weight, summed = _within(pieces, points[left], reach)
        length = np.linalg.norm(summed, axis=1)
        enough = area >= 0.25 * np.pi * (LEAST_DISC * thread[left]) ** 2
        enough &= length > LEAST_LENGTH * weight
        normals[left[enough]] = summed[enough] / length[enough, None]
        left = left[~enough]
    return normals


def _within(pieces: Pieces, points: Vec3s, reach: Floats) -> tuple[Floats, Floats, Vec3s]:
    """Area within reach of each point, the same weighted, and the weighted area vectors."""
    near = cKDTree(points).sparse_distance_matrix(
        cKDTree(pieces.middles), float(reach.max()), output_type="ndarray"
    )
    share = 1.0 - (near["v"] / reach[near["i"]]) ** 2
    inside = share > 0.0
    row, piece, share = near["i"][inside], near["j"][inside], share[inside]
    own = np.column_stack([pieces.areas, pieces.vectors])[piece]
    area, weight, *vector = (
        np.bincount(row, values, len(points)).astype(np.float64)
        for values in (own[:, 0], *(share[:, None] * own).T)
    )
    return area, weight, np.stack(vector, axis=1)
