"""Exact distances from points and segments to a surface, many at once.

The distance from a point to a surface changes by no more than the point moves. So between
two samples ``f0`` and ``f1`` at a distance ``h``, it stays above ``(f0 + f1 - h) / 2``: pieces
of a segment that cannot hold the least distance are dropped, the others halved. Sampling
alone would over-estimate a clearance, which is the dangerous side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_points, freeze
from trajplan.bone._candidates import SizeClass, candidate_pairs, size_classes
from trajplan.bone._libigl import NearestTree
from trajplan.bone._pieces import SLACK, Pieces
from trajplan.errors import DegenerateError, MeshError, ShapeError
from trajplan.geometry import segment_triangle_distance

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._types import Surface

__all__ = ["SurfaceDistance", "nearer_than", "nearest_point", "point_distance", "segment_distance"]

#: Samples on a segment to begin with.
SAMPLES = 5
#: mm; pieces this short are settled by the exact formula (measured: 2 and 4 beat 0.5 and 8).
STOP = 4.0
#: Segments taken at once: about 200 pieces each, which bounds memory to some 100 MB.
BLOCK = 8_192
#: Share of the longest edge squared below which the doubled area of a face is rounding.
SLIVER_SHARE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceDistance:
    """A surface made ready for distances; build it once with `SurfaceDistance.of`.

    The compiled tree of libigl cannot be pickled: a copy in another process builds it anew.
    """

    vertices: Vec3s  # (v, 3) mm
    faces: Ints  # (f, 3) faces without area stand as their longest edge
    triangles: Floats  # (f, 3, 3) mm
    tree: NearestTree  # over `faces`
    sizes: tuple[SizeClass, ...]  # the faces again, sorted by size, for radius queries

    @classmethod
    def of(cls, surface: Surface) -> SurfaceDistance:
        """Build the trees of a surface.

        Parameters
        ----------
        surface : Surface
            One triangle or more, open or closed; faces without area count as segments.

        Returns
        -------
        SurfaceDistance

        Raises
        ------
        MeshError
            If the surface has no face.
        """
        if len(surface.faces) == 0:
            raise MeshError(
                "no faces to measure a distance to",
                remedy="export the surface again",
                file=surface.name,
            )
        return _build(surface.vertices, surface.faces)

    @classmethod
    def over(cls, vertices: Vec3s, faces: Ints) -> SurfaceDistance:
        """Build the trees of triangles that are checked already.

        Parameters
        ----------
        vertices : (v, 3) float array, mm
            Positions, finite.
        faces : (f, 3) int array
            Rows of `vertices`, one face or more.

        Returns
        -------
        SurfaceDistance
        """
        return _build(vertices, faces)

    def __reduce__(self) -> tuple[object, ...]:
        """Pickle the mesh alone."""
        return _build, (self.vertices, self.faces)


def _build(vertices: Vec3s, faces: Ints) -> SurfaceDistance:
    vertices = np.ascontiguousarray(vertices, dtype=np.float64)
    faces = _without_slivers(vertices, np.asarray(faces, dtype=np.int64))
    triangles = vertices[faces]
    freeze(faces, triangles)
    return SurfaceDistance(
        vertices, faces, triangles, NearestTree(vertices, faces), size_classes(triangles)
    )


def _without_slivers(vertices: Vec3s, faces: Ints) -> Ints:
    """Faces, those without area written as their longest edge.

    On three points of one line libigl divides rounding by rounding and returns distances
    that are wrong by the size of the face; on a repeated corner it is right.
    """
    corner = vertices[faces]
    edge = np.roll(corner, -1, axis=1) - corner
    square = np.einsum("fij,fij->fi", edge, edge)
    area = np.linalg.norm(np.cross(edge[:, 0], edge[:, 1]), axis=1)
    thin = area <= SLIVER_SHARE * square.max(axis=1)
    rows, longest = np.flatnonzero(thin), square[thin].argmax(axis=1)
    out = np.ascontiguousarray(faces.copy())
    ends = faces[rows, longest], faces[rows, (longest + 1) % 3]
    out[rows] = np.stack([ends[0], ends[1], ends[1]], axis=1)
    return out


def point_distance(distance: SurfaceDistance, points: ArrayLike) -> Floats:
    """Distance of points to a surface, never negative.

    Parameters
    ----------
    distance : SurfaceDistance
        The surface.
    points : array_like, (n, 3), mm
        Points.

    Returns
    -------
    (n,) float array, mm

    Raises
    ------
    ShapeError, DegenerateError
        If the points are no finite ``(n, 3)``.
    """
    return _nearest(distance, as_points(points))[0]


def nearest_point(distance: SurfaceDistance, points: ArrayLike) -> Vec3s:
    """Nearest points of a surface.

    Parameters
    ----------
    distance : SurfaceDistance
        The surface.
    points : array_like, (n, 3), mm
        One point or more.

    Returns
    -------
    (n, 3) float array, mm

    Raises
    ------
    ShapeError, DegenerateError
        If the points are no finite ``(n, 3)``.
    """
    return distance.tree.nearest(as_points(points))[2]


def _nearest(distance: SurfaceDistance, points: Vec3s) -> tuple[Floats, Ints]:
    """Distance of points to the surface, and the face that is nearest."""
    square, face, _ = distance.tree.nearest(points)
    return np.sqrt(square), face


def segment_distance(distance: SurfaceDistance, p: ArrayLike, q: ArrayLike) -> Floats:
    """Least distance between segments and a surface; 0 where a segment pierces it.

    Parameters
    ----------
    distance : SurfaceDistance
        The surface.
    p, q : array_like, (n, 3), mm
        Ends of the segments; they may be equal.

    Returns
    -------
    (n,) float array, mm
        Exact to the rounding of float64.

    Raises
    ------
    ShapeError, DegenerateError
        If the ends are no finite ``(n, 3)`` of equal length.

    Notes
    -----
    Branch and bound down to pieces of 4 mm, then the exact distance to every triangle
    that can still be the nearest.
    """
    p, q = _ends(p, q)
    blocks = [slice(i, i + BLOCK) for i in range(0, len(p), BLOCK)]
    return np.concatenate([np.zeros(0), *(_exact(distance, p[b], q[b]) for b in blocks)])


def nearer_than(distance: SurfaceDistance, p: ArrayLike, q: ArrayLike, limit: ArrayLike) -> Bools:
    """Whether segments come nearer to a surface than a limit; certain, never sampled.

    Parameters
    ----------
    distance : SurfaceDistance
        The surface.
    p, q : array_like, (n, 3), mm
        Ends of the segments.
    limit : array_like, (n,) or scalar, mm
        The limit of each segment.

    Returns
    -------
    (n,) bool array
        True where ``segment_distance < limit``. Much faster than the distance itself: a
        segment is settled by one near sample, or once all its pieces are clear.

    Raises
    ------
    ShapeError, DegenerateError
        If the arrays do not fit or hold a number that is not finite.
    """
    p, q = _ends(p, q)
    limits = np.asarray(limit, dtype=np.float64)
    if limits.shape not in ((), (len(p),)):
        raise ShapeError("limit", f"({len(p)},)", limits.shape)
    if np.isnan(limits).any():
        raise DegenerateError("limit: NaN is no distance")
    limits = np.broadcast_to(limits, len(p))
    blocks = [slice(i, i + BLOCK) for i in range(0, len(p), BLOCK)]
    parts = [_decide(distance, p[b], q[b], limits[b]) for b in blocks]
    return np.concatenate([np.zeros(0, dtype=np.bool_), *parts])


def _ends(p: ArrayLike, q: ArrayLike) -> tuple[Vec3s, Vec3s]:
    starts, ends = as_points(p, "p"), as_points(q, "q")
    if starts.shape != ends.shape:
        raise ShapeError("q", str(starts.shape), ends.shape)
    return starts, ends


def _first_pieces(distance: SurfaceDistance, p: Vec3s, q: Vec3s) -> tuple[Pieces, Floats]:
    """Pieces between evenly spaced samples, and the least sample of each segment."""
    share = np.linspace(0.0, 1.0, SAMPLES)
    points = p[:, None] + share[:, None] * (q - p)[:, None]
    sample, face = _nearest(distance, points.reshape(-1, 3))
    sample, face = sample.reshape(len(p), SAMPLES), face.reshape(len(p), SAMPLES)
    count = SAMPLES - 1
    length = np.linalg.norm(q - p, axis=1) / count
    pieces = Pieces(
        np.repeat(np.arange(len(p)), count), np.tile(share[:-1], len(p)),
        np.full(len(p) * count, 1.0 / count), sample[:, :-1].ravel(), sample[:, 1:].ravel(),
        np.repeat(length, count),
    )  # fmt: skip
    least = face[np.arange(len(p)), sample.argmin(axis=1)]
    exact = segment_triangle_distance(p, q, distance.triangles[least])
    return pieces, np.minimum(sample.min(axis=1), exact)


def _exact(distance: SurfaceDistance, p: Vec3s, q: Vec3s) -> Floats:
    pieces, best = _first_pieces(distance, p, q)
    short: list[Pieces] = []
    while len(pieces.row):
        pieces = pieces.kept((pieces.lower() < best[pieces.row]) & (best[pieces.row] > 0.0))
        short.append(pieces.kept(pieces.length <= STOP))
        pieces = pieces.kept(pieces.length > STOP)
        middle, _ = _nearest(distance, pieces.middles(p, q))
        np.minimum.at(best, pieces.row, middle)
        pieces = pieces.halved(middle)
    for pieces in short:
        _settle(distance, p, q, pieces, best)
    return best


def _settle(distance: SurfaceDistance, p: Vec3s, q: Vec3s, pieces: Pieces, best: Floats) -> None:
    """Lower `best` to the exact distance of every triangle that can win within a piece."""
    pieces = pieces.kept(pieces.lower() < best[pieces.row])
    middle = pieces.middles(p, q)
    upper, nearest = _nearest(distance, middle)
    exact = segment_triangle_distance(p[pieces.row], q[pieces.row], distance.triangles[nearest])
    np.minimum.at(best, pieces.row, np.minimum(upper, exact))
    reach = best[pieces.row] + SLACK
    can_win = (upper <= reach + 0.5 * pieces.length) & (best[pieces.row] > 0.0)
    rows = pieces.row[can_win]
    half = 0.5 * pieces.width[can_win, None] * (q - p)[rows]
    for piece, face in candidate_pairs(distance.sizes, middle[can_win], half, reach[can_win]):
        pair = np.unique(rows[piece] * len(distance.faces) + face)
        row, triangle = np.divmod(pair, len(distance.faces))
        exact = segment_triangle_distance(p[row], q[row], distance.triangles[triangle])
        np.minimum.at(best, row, exact)


def _decide(distance: SurfaceDistance, p: Vec3s, q: Vec3s, limit: Floats) -> Bools:
    pieces, best = _first_pieces(distance, p, q)
    while len(pieces.row):
        unsettled = best[pieces.row] >= limit[pieces.row]
        pieces = pieces.kept(unsettled & (pieces.lower() < limit[pieces.row]))
        if len(pieces.row) and pieces.length.max() <= STOP:
            rows = np.unique(pieces.row)
            best[rows] = _exact(distance, p[rows], q[rows])
            break
        middle, _ = _nearest(distance, pieces.middles(p, q))
        np.minimum.at(best, pieces.row, middle)
        pieces = pieces.halved(middle)
    return best < limit
