"""Exact distances between pairs of segments, and of segments and triangles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3s

__all__ = ["segment_segment_distance", "segment_triangle_distance"]

#: Share of ``|d1|² |d2|²`` below which the determinant of two directions is rounding:
#: they are parallel, and any point of the overlap is nearest.
PARALLEL_SHARE = 1e-14

#: Share of its longest edge squared below which a triangle's doubled area is rounding: the
#: triangle is thinner than 1e-10 mm, its normal is noise, and its edges say all there is.
SLIVER_SHARE = 1e-12


def _dot(a: Floats, b: Floats) -> Floats:
    out: Floats = np.einsum("...i,...i", a, b)
    return out


def _share(numerator: Floats, denominator: Floats) -> Floats:
    """Quotient clipped to 0..1; a zero denominator (a point for a segment) gives 0."""
    safe = np.where(denominator > 0.0, denominator, 1.0)
    return np.where(denominator > 0.0, np.clip(numerator / safe, 0.0, 1.0), 0.0)


def _rows(wanted: Bools, *vectors: Vec3s) -> list[Vec3s]:
    """Of each array of vectors, broadcast to the shape of `wanted`, the rows wanted."""
    return [np.broadcast_to(vector, (*wanted.shape, 3))[wanted] for vector in vectors]


def _nearer_end(first: Vec3s, line: Vec3s, between: Vec3s) -> Floats:
    """Share (0 or 1) of the end of the first segment that is nearer to the line of the other.

    All but parallel lines still converge: by 1e-5 mm over 100 mm, just inside
    `PARALLEL_SHARE`, so the end from which to project is not free.
    """
    square = _dot(line, line)
    safe = np.where(square > 0.0, square, 1.0)[..., None]
    at_start = between - line * (_dot(line, between)[..., None] / safe)
    at_end = at_start + first - line * (_dot(first, line)[..., None] / safe)
    return np.where(_dot(at_end, at_end) < _dot(at_start, at_start), 1.0, 0.0)


def segment_segment_distance(p: Vec3s, q: Vec3s, a: Vec3s, b: Vec3s) -> Floats:
    """Smallest distance between segments ``pq`` and ``ab``, pair by pair.

    Parameters
    ----------
    p, q, a, b : (..., 3) float arrays, mm
        Ends; the arrays broadcast. A segment may be a single point.

    Returns
    -------
    (...) float array, mm

    References
    ----------
    .. [1] Ericson 2005, Real-Time Collision Detection, section 5.1.9 (from memory).
    """
    first, second, between = q - p, b - a, p - a
    aa, ee, cross = _dot(first, first), _dot(second, second), _dot(first, second)
    f, c = _dot(second, between), _dot(first, between)
    determinant = aa * ee - cross * cross
    skew = determinant > PARALLEL_SHARE * aa * ee
    s = _share(cross * f - c * ee, np.where(skew, determinant, 1.0))
    if not skew.all():
        s[~skew] = _nearer_end(*_rows(~skew, first, second, between))
    t = _share(cross * s + f, ee)
    s = _share(cross * t - c, aa)
    t = _share(cross * s + f, ee)
    gap = between + first * s[..., None] - second * t[..., None]
    return np.sqrt(_dot(gap, gap))


def segment_triangle_distance(p: Vec3s, q: Vec3s, triangles: Floats) -> Floats:
    """Smallest distance between segments and triangles, pair by pair; 0 where they meet.

    Parameters
    ----------
    p, q : (..., 3) float arrays, mm
        Ends of the segments.
    triangles : (..., 3, 3) float array, mm
        Corners of the triangles; degenerate ones count as their edges.

    Returns
    -------
    (...) float array, mm

    Notes
    -----
    The nearest pair lies on an edge, or over the face from an end of the segment, or the
    segment pierces the face: the least of these is exact.
    """
    a, b, c = triangles[..., 0, :], triangles[..., 1, :], triangles[..., 2, :]
    best = np.minimum(
        np.minimum(segment_segment_distance(p, q, a, b), segment_segment_distance(p, q, b, c)),
        segment_segment_distance(p, q, c, a),
    )
    normal = np.cross(b - a, c - a)
    length = np.sqrt(_dot(normal, normal))
    edges = np.maximum(np.maximum(_dot(b - a, b - a), _dot(c - b, c - b)), _dot(a - c, a - c))
    flat = length > SLIVER_SHARE * edges
    unit = normal / np.where(flat, length, 1.0)[..., None]

    def over_face(x: Vec3s) -> Bools:
        inside: Bools = (
            flat
            & (_dot(np.cross(b - a, x - a), unit) >= 0.0)
            & (_dot(np.cross(c - b, x - b), unit) >= 0.0)
            & (_dot(np.cross(a - c, x - c), unit) >= 0.0)
        )
        return inside

    height_p, height_q = _dot(p - a, unit), _dot(q - a, unit)
    for end, height in ((p, height_p), (q, height_q)):
        foot = end - height[..., None] * unit
        best = np.where(over_face(foot), np.minimum(best, np.abs(height)), best)
    crosses = height_p * height_q <= 0.0
    span = height_p - height_q
    share = np.where(span != 0.0, height_p / np.where(span != 0.0, span, 1.0), 0.0)
    pierces = crosses & over_face(p + share[..., None] * (q - p))
    return np.where(pierces, 0.0, best)
