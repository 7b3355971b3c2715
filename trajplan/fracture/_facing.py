"""Which faces of each fragment look at which other fragment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import Surface, SurfaceDistance, make_caster, point_distance
from trajplan.errors import CaseError
from trajplan.fracture._normals import areas, calmed, outward_normals
from trajplan.fracture._refine import long_edges, refine

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone

__all__ = ["LONGEST", "Facing", "find_facing", "nearest_crossing"]

#: mm; edges near another fragment are halved down to this, so that a face belongs to one
#: pair and the rim is followed about as closely as a segmentation shows it (assumption).
LONGEST = 1.5
#: Cosine of the angle (60 degrees) to a line up to which a face is turned along it.
ALONG = 0.5
#: mm; edges are halved down to this first, to drop what is far.
COARSE = 8.0
#: mm² of surface within reach of another body, at most: more than a femur has in all, outside
#: and canal. Where surfaces run through one another over more, a line along a normal meets so
#: many of them that what looks at what says nothing of how fragments fit, and takes minutes.
MOST_AREA = 100_000.0
#: Parts that a round of dividing may leave: at half a square millimetre each, several times that
#: area; only slivers from end to end of a bone fall into more.
MOST_PARTS = 1_500_000
#: mm beyond reach within which faces are kept, for what is measured beside the rim.
AROUND = 3.0
#: mm; crossings of a line with the surface that it starts from are no nearer than this to
#: any other.
SELF = 1e-6
#: Degrees by which two facing normals may miss each other in any case, and how many times
#: the pair's median: an outer surface under an overhang meets the fracture surface at
#: another angle than the fracture surfaces meet each other (assumption).
LEAST_MISS, TIMES_MEDIAN = 15.0, 3.0
#: mm by which fragments may overlap in any case, and how many times the pair's median: where
#: they overlap, the outer wall of one also lies before the canal of the other (assumption).
LEAST_DEPTH, TIMES_DEPTH = 1.0, 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Facing:
    """Faces near other fragments, divided finely, and what they look at."""

    vertices: Vec3s  # (v, 3) mm
    faces: Ints  # (k, 3)
    normals: Vec3s  # (k, 3) unit, out of bone, calmed
    source: Ints  # (k,) face of the bone that it is part of
    body: Ints  # (k,) its fragment
    hit: Ints  # (k,) face, of these, that it looks at, -1 for none
    other: Ints  # (k,) the fragment that it looks at, -1 for none

    def triangles(self, rows: Ints) -> Floats:
        """Corner points of some faces."""
        return self.vertices[self.faces[rows]]


def find_facing(bone: Bone, reach: float, facing: float) -> Facing:
    """Find the faces of each fragment that look at another one.

    Parameters
    ----------
    bone : Bone
        Two bodies or more.
    reach : float, mm
        Greatest distance, before or behind a face.
    facing : float, degrees
        Greatest angle between a face's normal and the reverse of the other's.

    Returns
    -------
    Facing

    Raises
    ------
    CaseError
        If more of the surfaces lies within reach of another body than fragments can have.

    Notes
    -----
    From the middle of each face runs a line along its normal. The face looks at the face
    of another body that it meets first, within reach on either side (behind it where the
    fragments overlap), if the normals oppose each other and no other part of its own body
    lies between. Looks that miss or overlap by far more than the others of their two bodies
    do not count.
    """
    normals = outward_normals(bone)
    sound: Bools = np.einsum("ij,ij->i", normals, normals) > 0.0
    vertices, faces, source = _near_others(bone, reach + AROUND, sound)
    body, triangles = bone.shells.body[bone.shells.of_face[source]], vertices[faces]
    normals = calmed(normals[source], triangles, faces)
    hit, depth = _looks(triangles, normals, body, reach, facing)
    hit = _alike(hit, depth, body, normals, areas(triangles))
    return Facing(vertices, faces, normals, source, body, hit, np.where(hit >= 0, body[hit], -1))


def nearest_crossing(triangles: Floats, normals: Vec3s, origin: Vec3s, direction: Vec3s) -> Floats:
    """Depth, on lines, of the nearest triangle that is turned along them.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners; there may be none.
    normals : (f, 3) float array
        Their unit normals; those within 60 degrees of a line count for it.
    origin, direction : (m, 3) float arrays
        The lines.

    Returns
    -------
    (m,) float array, mm
        Of either sign, the one nearest to the origin; NaN where no triangle is met.
    """
    depth = np.full(len(origin), np.nan)
    if len(triangles) and len(origin):
        hits = make_caster(triangles).crossings(origin, direction)
        row = rows_of(hits.offsets)
        along = np.einsum("ij,ij->i", normals[hits.face], direction[row]) > ALONG
        item = np.flatnonzero(along)
        order = item[np.lexsort((np.abs(hits.depth[item]), row[item]))]
        met, begin = np.unique(row[order], return_index=True)
        depth[met] = hits.depth[order[begin]]
    return depth


def _near_others(bone: Bone, reach: float, sound: Bools) -> tuple[Floats, Ints, Ints]:
    """Faces within reach of another body, finely divided, and the faces that they are part of.

    What is far is dropped before every round of dividing: a face as long as a shaft would else
    be divided in vain from end to end.
    """
    body = bone.shells.body[bone.shells.of_face]
    source = np.flatnonzero(sound & _boxes_near(bone.surface.triangles(), body, reach))
    vertices, faces = bone.surface.vertices, bone.surface.faces[source]
    trees = _trees(vertices, faces, body[source])
    for longest in (COARSE, LONGEST):
        wanted = _Wanted(trees, body[source], reach, longest)
        vertices, faces, parent = refine(vertices, faces, longest, wanted)
        source = source[parent]
        near = _within(trees, vertices[faces], body[source], reach)
        faces, source = faces[near], source[near]
        area = float(areas(vertices[faces]).sum())
        if area > MOST_AREA:
            raise _case_error(
                f"bodies of the bone lie within {reach:.0f} mm of one another over "
                f"{area / 100.0:,.0f} cm² of their surfaces, more than fragments can",
                remedy="give whole surfaces that do not run through one another, in the unit "
                "of the case",
            )
    return vertices, faces, source


@dataclass(frozen=True, slots=True, eq=False)
class _Wanted:
    """Tells which faces are worth dividing, and refuses where they are too many."""

    trees: dict[int, SurfaceDistance]
    body: Ints  # (f,) of each face that was given
    reach: float  # mm
    longest: float  # mm

    def __call__(self, triangles: Floats, source: Ints) -> Bools:
        # a final part may lie so far off its own middle, and still be kept in the end
        near = _within(self.trees, triangles, self.body[source], self.reach + LONGEST)
        more = np.count_nonzero(long_edges(triangles[near], self.longest))
        if np.count_nonzero(near) + more > MOST_PARTS:
            raise _case_error(
                f"faces near another body are so long, or so many, that they fall into more than "
                f"{MOST_PARTS:,} parts of {self.longest:g} mm",
                remedy="export the surface with faces of even size, and check its unit",
            )
        return near


def _case_error(found: str, remedy: str) -> CaseError:
    return CaseError(found, remedy=remedy, where="bone")


def _boxes_near(triangles: Floats, body: Ints, reach: float) -> Bools:
    """Faces whose box comes within reach of the box of another body."""
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    near = np.zeros(len(body), dtype=np.bool_)
    for number in np.unique(body):
        own = body == number
        within = (high >= low[own].min(axis=0) - reach) & (low <= high[own].max(axis=0) + reach)
        near |= within.all(axis=1) & ~own
    return near


def _trees(vertices: Vec3s, faces: Ints, body: Ints) -> dict[int, SurfaceDistance]:
    """Make each body ready for distances."""
    return {
        int(number): SurfaceDistance.of(
            Surface(vertices, faces[body == number], {}, "fragment", "", 0)
        )
        for number in np.unique(body)
    }


def _within(
    trees: dict[int, SurfaceDistance], triangles: Floats, body: Ints, reach: float
) -> Bools:
    """Faces that may come within reach of another body."""
    middle = triangles.mean(axis=1)
    radius = np.linalg.norm(triangles - middle[:, None], axis=2).max(axis=1)
    near = np.zeros(len(body), dtype=np.bool_)
    for number, tree in trees.items():
        rows = np.flatnonzero((body != number) & ~near)
        near[rows] = point_distance(tree, middle[rows]) <= reach + radius[rows]
    return near


def _looks(
    triangles: Floats, normals: Vec3s, body: Ints, reach: float, facing: float
) -> tuple[Ints, Floats]:
    """Face of another body that each line along a normal meets first (-1: none), and its depth."""
    hit, depth = np.full(len(body), -1), np.zeros(len(body))
    if len(body) == 0:
        return hit, depth
    crossings = make_caster(triangles).crossings(triangles.mean(axis=1), normals)
    row, face, along = rows_of(crossings.offsets), crossings.face, crossings.depth
    own = body[face] == body[row]
    cosine = np.einsum("ij,ij->i", normals[row], normals[face])
    counts = ~own & (cosine <= -np.cos(np.radians(facing))) & (np.abs(along) <= reach)
    item = np.flatnonzero(counts)
    order = item[np.lexsort((np.abs(along[item]), row[item]))]
    seen, begin = np.unique(row[order], return_index=True)
    hit[seen], depth[seen] = face[order[begin]], along[order[begin]]
    between = own & (along * depth[row] > 0.0)
    between &= (np.abs(along) > SELF) & (np.abs(along) < np.abs(depth[row]))
    hit[row[between]] = -1
    return hit, depth


def _alike(hit: Ints, depth: Floats, body: Ints, normals: Vec3s, area: Floats) -> Ints:
    """Drop looks that miss, or overlap, by much more than most of their two bodies."""
    seen = np.flatnonzero(hit >= 0)
    cosine = -np.einsum("ij,ij->i", normals[seen], normals[hit[seen]])
    miss = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    away = np.abs(depth[seen])
    pair = np.sort(np.column_stack([body[seen], body[hit[seen]]]), axis=1)
    kept: Ints = hit.copy()
    for one in np.unique(pair, axis=0):
        rows = (pair == one).all(axis=1)
        most = max(LEAST_MISS, TIMES_MEDIAN * _median(miss[rows], area[seen[rows]]))
        deepest = max(LEAST_DEPTH, TIMES_DEPTH * _median(away[rows], area[seen[rows]]))
        kept[seen[rows & ((miss > most) | (depth[seen] < -deepest))]] = -1
    return kept


def _median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order[np.searchsorted(total, 0.5 * total[-1])]])
