"""When a line crosses a triangle: one rule, without tolerance, in numpy.

Each triangle is sheared into the line's frame, where the line is the point (0, 0) [1]_. A
line crosses a triangle if the three edges all pass on the same side of that point. The
side is the exact sign of ``xa * yb - ya * xb`` for the float64 corners, so an edge shared
by two triangles answers each of them with the opposite sign. Where the sign is exactly
zero, the line is taken to be shifted by ``(-e, -e²)``, ``e`` infinitely small: the
top-left rule of rasterisers, and the same shift for every triangle. On a closed surface
every line therefore enters as often as it leaves, whatever edge, vertex or face it runs
through. The compiled tree follows the same rule step by step; the two must agree.

The signs are exact as long as no product of two coordinates underflows, that is for
coordinates that are zero or above 1e-140 mm.

References
----------
.. [1] S. Woop, C. Benthin, I. Wald, "Watertight ray/triangle intersection", Journal of
   Computer Graphics Techniques 2(1), 2013.
.. [2] T. J. Dekker, "A floating-point technique for extending the available precision",
   Numerische Mathematik 18, 1971, doi:10.1007/BF01397083 (error of a product).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of
from trajplan.bone._types import Crossings

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Int8s, Ints, Vec3, Vec3s

__all__ = ["brute_crossings", "crossings_of_pairs", "near_origins"]

#: 2**27 + 1 cuts a float64 into two halves whose products are exact (Dekker).
SPLITTER = 134217729.0
#: A direction component below this part of the largest one is taken as zero: it moves the
#: line by less than the last bit, and its products would underflow.
FLAT = 1e-100
#: Part of its products below which the area of a triangle's shadow is worked out with what
#: rounding took from them: else a line in the plane of a face may leave before it enters.
CLOSE = 1e-6
#: Corners of the edges, each across from the corner whose weight it gives.
EDGES = ((1, 2), (2, 0), (0, 1))
#: Pairs of line and triangle that `brute_crossings` looks at in one go.
PAIRS_AT_ONCE = 1_000_000


def near_origins(origin: Vec3s, direction: Vec3s, centre: Vec3) -> tuple[Vec3s, Floats]:
    """Slide the origin of each line to its nearest point to a centre.

    Coordinates relative to the line are then as small as they can be, so depths keep all
    their digits wherever the caller's origin lies. A coordinate in which the direction is
    zero does not change at all.

    Parameters
    ----------
    origin, direction : (m, 3) float array
        Lines.
    centre : (3,) float array
        Middle of the triangles.

    Returns
    -------
    origin : (m, 3) float array
        Where the lines start now.
    shift : (m,) float array
        Depth of that point on the caller's line.
    """
    x, y, z = direction.T
    toward = centre - origin
    along = x * toward[:, 0] + y * toward[:, 1] + z * toward[:, 2]
    shift: Floats = along / (x * x + y * y + z * z)
    return origin + shift[:, None] * direction, shift


def crossings_of_pairs(
    triangles: Floats, origin: Vec3s, direction: Vec3s
) -> tuple[Bools, Floats, Int8s]:
    """Test pairs of one triangle and one line.

    Parameters
    ----------
    triangles : (k, 3, 3) float array, mm
        Corners.
    origin, direction : (k, 3) float array
        Lines.

    Returns
    -------
    hit : (k,) bool array
        The line crosses the triangle.
    depth : (k,) float array, mm
        Depth of the crossing; of no meaning where there is none.
    sign : (k,) int8 array
        +1 along the normal of the triangle, -1 against it, 0 where there is no crossing.
    """
    x, y, z, scale = _into_line_frame(triangles, origin, direction)
    sides, weights = zip(
        *(_side(x[:, a], y[:, a], x[:, b], y[:, b]) for a, b in EDGES),
        strict=True,
    )
    side = np.where((sides[0] == sides[1]) & (sides[1] == sides[2]), sides[0], 0)
    area = weights[0] + weights[1] + weights[2]
    # hardly any area: the triangle is seen edge on, and its depth rests on the last bits
    size = np.abs(x[:, 1] * y[:, 2]) + np.abs(x[:, 2] * y[:, 0]) + np.abs(x[:, 0] * y[:, 1])
    close = np.flatnonzero((side != 0) & (np.abs(area) < CLOSE * size))
    for weight, (a, b) in zip(weights, EDGES, strict=True):
        weight[close] = _fine(x[close, a], y[close, a], x[close, b], y[close, b])
    area[close] = weights[0][close] + weights[1][close] + weights[2][close]
    sound = area != 0
    weighted = weights[0] * z[:, 0] + weights[1] * z[:, 1] + weights[2] * z[:, 2]
    depth = np.where(sound, weighted / np.where(sound, area, 1.0), z.mean(axis=1)) / scale
    sign = (side * np.where(scale > 0, 1, -1)).astype(np.int8)
    return side != 0, depth, sign


def _into_line_frame(
    triangles: Floats, origin: Vec3s, direction: Vec3s
) -> tuple[Floats, Floats, Floats, Floats]:
    """Corners in the frame in which the line is the third axis, and that axis's scale."""
    row = np.arange(len(direction))
    kz = np.abs(direction).argmax(axis=1)
    kx, ky = (kz + 1) % 3, (kz + 2) % 3
    scale = direction[row, kz]
    shear_x, shear_y = direction[row, kx] / scale, direction[row, ky] / scale
    shear_x = np.where(np.abs(shear_x) < FLAT, 0.0, shear_x)
    shear_y = np.where(np.abs(shear_y) < FLAT, 0.0, shear_y)
    z = triangles[row, :, kz] - origin[row, kz][:, None]
    x = triangles[row, :, kx] - origin[row, kx][:, None] - shear_x[:, None] * z
    y = triangles[row, :, ky] - origin[row, ky][:, None] - shear_y[:, None] * z
    return x, y, z, scale


def _side(xa: Floats, ya: Floats, xb: Floats, yb: Floats) -> tuple[Ints, Floats]:
    """On which side of the line the edge a-b passes (exact), and by what area (rounded)."""
    left, right = xa * yb, ya * xb
    area = left - right
    side = np.sign(area).astype(np.int64)
    tie = np.flatnonzero(side == 0)
    if len(tie):
        side[tie] = _side_of_tie(xa[tie], ya[tie], xb[tie], yb[tie])
    return side, area


def _side_of_tie(xa: Floats, ya: Floats, xb: Floats, yb: Floats) -> Ints:
    """Side of edges whose two products round to the same number."""
    rest = _product_error(xa, yb) - _product_error(ya, xb)
    shifted = np.where(yb != ya, np.sign(yb - ya), np.sign(xa - xb))
    return np.where(rest != 0, np.sign(rest), shifted).astype(np.int64)


def _fine(xa: Floats, ya: Floats, xb: Floats, yb: Floats) -> Floats:
    """Twice the area between the line and an edge, with what rounding took from it."""
    rest: Floats = _product_error(xa, yb) - _product_error(ya, xb)
    return (xa * yb - ya * xb) + rest


def _product_error(a: Floats, b: Floats) -> Floats:
    """Give what rounding took from the product: ``a * b == fl(a * b) + error``, exactly."""
    a_high = SPLITTER * a - (SPLITTER * a - a)
    b_high = SPLITTER * b - (SPLITTER * b - b)
    a_low, b_low = a - a_high, b - b_high
    rest: Floats = ((a_high * b_high - a * b) + a_high * b_low + a_low * b_high) + a_low * b_low
    return rest


def brute_crossings(triangles: Floats, origin: Vec3s, direction: Vec3s) -> Crossings:
    """Every crossing, found by testing every triangle with every line.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners.
    origin, direction : (m, 3) float array
        Endless lines.

    Returns
    -------
    Crossings
    """
    near, shift = near_origins(origin, direction, middle(triangles))
    step = max(1, PAIRS_AT_ONCE // max(1, len(triangles)))
    found = []
    for start in range(0, len(near), step):
        lines = np.arange(start, min(start + step, len(near)))
        face = np.tile(np.arange(len(triangles)), len(lines))
        found.append(
            crossing_pairs(triangles, near, direction, face, np.repeat(lines, len(triangles)))
        )
    return sorted_crossings(found, shift)


def middle(triangles: Floats) -> Vec3:
    """Middle of the bounding box; the origin where there is no triangle."""
    if len(triangles) == 0:
        return np.zeros(3)
    columns = triangles.reshape(-1, 3).T  # ten times as fast as a reduction down rows of three
    return np.array([0.5 * (column.min() + column.max()) for column in columns])


def crossing_pairs(
    triangles: Floats, origin: Vec3s, direction: Vec3s, face: Ints, line: Ints
) -> tuple[Ints, Ints, Floats, Int8s]:
    """Pairs of face and line that do cross: line, face, depth, sign."""
    hit, depth, sign = crossings_of_pairs(triangles[face], origin[line], direction[line])
    return line[hit], face[hit], depth[hit], sign[hit]


def sorted_crossings(found: list[tuple[Ints, Ints, Floats, Int8s]], shift: Floats) -> Crossings:
    """Crossings of ``len(shift)`` lines in order of line, depth and face."""
    if not found:
        found = [(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0), np.zeros(0, np.int8))]
    line, face, depth, sign = (np.concatenate(part) for part in zip(*found, strict=True))
    depth = depth + shift[line]
    order = np.lexsort((face, depth, line))
    counts = np.bincount(line, minlength=len(shift))
    return Crossings(offsets_of(counts), depth[order], sign[order], face[order])
