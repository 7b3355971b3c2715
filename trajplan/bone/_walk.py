"""Walking the tree of boxes along many lines: compiled, on all cores.

The triangle test is the rule of `trajplan.bone._rule`, step by step. A compiled function is
kept on disk until its own file changes, so all that it calls stands in this file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numba
import numpy as np

from trajplan.bone._jit import jit, jit_parallel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.arrays import Floats, Int8s, Ints, Vec3, Vec3s

    Line: TypeAlias = tuple[float, float, float, float, float, float]
    Frame: TypeAlias = tuple[int, int, int, float, float, float, float, float, float]

__all__ = ["Rows", "Tree", "pack", "walk"]

#: The constants of `_rule`; a test holds them equal.
SPLITTER = 134217729.0
FLAT = 1e-100
#: Lines that one thread takes at a time; one stack serves them all.
BLOCK = 64
#: Nodes that may wait; equal to that of `_build`, which keeps every tree below it.
STACK = 98


class Tree(NamedTuple):
    """A tree of boxes over triangles, see `trajplan.bone._build.build`."""

    centre: Vec3  # (3,) what `box` is relative to
    box: NDArray[np.float32]  # (k, 6) low and high corners, padded
    link: NDArray[np.int32]  # (k,) first of two neighbouring children, or first triangle
    size: NDArray[np.int32]  # (k,) triangles of a leaf, 0 for an inner node
    corners: Floats  # (f, 9) triangles in the order of the leaves
    order: Ints  # (f,) the face that each row of `corners` is


class Rows(NamedTuple):
    """Where crossings are written: line i from ``start[i]`` on, at most ``room[i]``."""

    start: Ints  # (m,)
    room: Ints  # (m,)
    found: Ints  # (m,) crossings found, whether or not there was room
    depth: Floats  # (h,)
    sign: Int8s  # (h,)
    face: Ints  # (h,)


@jit_parallel
def walk(tree: Tree, origin: Vec3s, direction: Vec3s, rows: Rows) -> None:
    """Find every crossing of every line, sorted by depth, then by face.

    Parameters
    ----------
    tree : Tree
        Triangles.
    origin, direction : (m, 3) float array
        Lines; no direction is zero.
    rows : Rows
        Filled, apart from `start` and `room`.
    """
    for block in numba.prange((len(origin) + BLOCK - 1) // BLOCK):
        stack = np.empty(STACK, np.int32)
        for i in range(block * BLOCK, min(len(origin), (block + 1) * BLOCK)):
            _walk_row(tree, origin, direction, rows, i, stack)


@jit
def _walk_row(
    tree: Tree,
    origin: Vec3s,
    direction: Vec3s,
    rows: Rows,
    i: int,
    stack: NDArray[np.int32],
) -> None:
    """Find and sort the crossings of line i."""
    # not inside the parallel loop: numba drops writes to members of a tuple there
    line = (
        origin[i, 0], origin[i, 1], origin[i, 2],
        direction[i, 0], direction[i, 1], direction[i, 2],
    )  # fmt: skip
    rows.found[i] = _walk_line(tree, line, stack, rows, rows.start[i], rows.room[i])
    _sort(rows, rows.start[i], min(rows.found[i], rows.room[i]))


@jit
def _walk_line(
    tree: Tree, line: Line, stack: NDArray[np.int32], rows: Rows, start: int, room: int
) -> int:
    """Crossings of one line, unsorted; returns their number."""
    line, shift = _slide(line, tree.centre)
    frame = _line_frame(line)
    slab = _slab(line, tree.centre)
    found = 0
    top = 0
    if _meets(tree.box, 0, slab):
        stack[0] = 0
        top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        child = tree.link[node]
        if tree.size[node] == 0:
            if _meets(tree.box, child + 1, slab):
                stack[top] = child + 1
                top += 1
            if _meets(tree.box, child, slab):
                stack[top] = child
                top += 1
            continue
        for k in range(child, child + tree.size[node]):
            side, depth = _cross(tree.corners, k, frame)
            if side != 0:
                if found < room:
                    at = start + found
                    rows.depth[at], rows.sign[at] = shift + depth, side
                    rows.face[at] = tree.order[k]
                found += 1
    return found


@jit
def _slide(line: Line, centre: Vec3) -> tuple[Line, float]:
    """Line from its point nearest to the centre, and the depth of that point."""
    ox, oy, oz, dx, dy, dz = line
    along = dx * (centre[0] - ox) + dy * (centre[1] - oy) + dz * (centre[2] - oz)
    shift = along / (dx * dx + dy * dy + dz * dz)
    return (ox + shift * dx, oy + shift * dy, oz + shift * dz, dx, dy, dz), shift


@jit
def _line_frame(line: Line) -> Frame:
    """Order of axes, origin in that order, shears and scale of the largest axis."""
    o, d = line[:3], line[3:]
    kz = 0
    for axis in (1, 2):
        if abs(d[axis]) > abs(d[kz]):
            kz = axis
    kx, ky = (kz + 1) % 3, (kz + 2) % 3
    shear_x, shear_y = d[kx] / d[kz], d[ky] / d[kz]
    if abs(shear_x) < FLAT:
        shear_x = 0.0
    if abs(shear_y) < FLAT:
        shear_y = 0.0
    return kx, ky, kz, o[kx], o[ky], o[kz], shear_x, shear_y, d[kz]


@jit
def _slab(line: Line, centre: Vec3) -> Line:
    """Origin relative to the centre, and one over the direction.

    A component of zero gives an infinite slab, or none. It gives NaN for a line in the very
    plane of a side of a box; the padding keeps all triangles away from there.
    """
    ox, oy, oz, dx, dy, dz = line
    return ox - centre[0], oy - centre[1], oz - centre[2], 1 / dx, 1 / dy, 1 / dz


@jit
def _meets(box: NDArray[np.float32], node: int, slab: Line) -> bool:
    """Whether the endless line meets the box of a node."""
    ox, oy, oz, ix, iy, iz = slab
    a, b = (box[node, 0] - ox) * ix, (box[node, 3] - ox) * ix
    near, far = min(a, b), max(a, b)
    a, b = (box[node, 1] - oy) * iy, (box[node, 4] - oy) * iy
    near, far = max(near, min(a, b)), min(far, max(a, b))
    a, b = (box[node, 2] - oz) * iz, (box[node, 5] - oz) * iz
    return bool(max(near, min(a, b)) <= min(far, max(a, b)))


@jit
def _cross(corners: Floats, k: int, frame: Frame) -> tuple[int, float]:
    """Sign of the crossing with a triangle (0: none) and its depth."""
    kx, ky, kz, ox, oy, oz, shear_x, shear_y, scale = frame
    z0, z1, z2 = corners[k, kz] - oz, corners[k, 3 + kz] - oz, corners[k, 6 + kz] - oz
    x0 = corners[k, kx] - ox - shear_x * z0
    x1 = corners[k, 3 + kx] - ox - shear_x * z1
    x2 = corners[k, 6 + kx] - ox - shear_x * z2
    y0 = corners[k, ky] - oy - shear_y * z0
    y1 = corners[k, 3 + ky] - oy - shear_y * z1
    y2 = corners[k, 6 + ky] - oy - shear_y * z2
    w0 = x1 * y2 - y1 * x2
    w1 = x2 * y0 - y2 * x0
    w2 = x0 * y1 - y0 * x1
    if (w0 > 0 or w1 > 0 or w2 > 0) and (w0 < 0 or w1 < 0 or w2 < 0):
        return 0, 0.0
    side = _side(w0, x1, y1, x2, y2)
    if side == 0 or side != _side(w1, x2, y2, x0, y0) or side != _side(w2, x0, y0, x1, y1):
        return 0, 0.0
    area = w0 + w1 + w2
    depth = (w0 * z0 + w1 * z1 + w2 * z2) / area if area != 0 else (z0 + z1 + z2) / 3
    return (side if scale > 0 else -side), depth / scale


@jit
def _side(area: float, xa: float, ya: float, xb: float, yb: float) -> int:
    """On which side of the line the edge a-b passes; exact, see `_rule`."""
    if area == 0:
        area = _product_error(xa, yb) - _product_error(ya, xb)
    if area == 0:
        area = yb - ya
    if area == 0:
        area = xa - xb
    return int(area > 0) - int(area < 0)


@jit
def _product_error(a: float, b: float) -> float:
    """Give what rounding took from the product."""
    a_high = SPLITTER * a - (SPLITTER * a - a)
    b_high = SPLITTER * b - (SPLITTER * b - b)
    a_low, b_low = a - a_high, b - b_high
    return ((a_high * b_high - a * b) + a_high * b_low + a_low * b_high) + a_low * b_low


@jit
def _sort(rows: Rows, start: int, count: int) -> None:
    """Sort the crossings of one line by depth, then by face; insertion, as they are few."""
    for i in range(start + 1, start + count):
        depth, sign, face = rows.depth[i], rows.sign[i], rows.face[i]
        j = i
        while j > start and (
            rows.depth[j - 1] > depth or (rows.depth[j - 1] == depth and rows.face[j - 1] > face)
        ):
            rows.depth[j], rows.sign[j] = rows.depth[j - 1], rows.sign[j - 1]
            rows.face[j] = rows.face[j - 1]
            j -= 1
        rows.depth[j], rows.sign[j], rows.face[j] = depth, sign, face


@jit_parallel
def pack(rows: Rows, target: Rows) -> None:
    """Copy each line's crossings from one set of rows to another."""
    for i in numba.prange(len(rows.start)):
        _pack_row(rows, target, i)


@jit
def _pack_row(rows: Rows, target: Rows, i: int) -> None:
    """Copy the crossings of line i, as far as there is room on both sides."""
    for j in range(min(rows.room[i], target.room[i])):
        source, place = rows.start[i] + j, target.start[i] + j
        target.depth[place], target.sign[place] = rows.depth[source], rows.sign[source]
        target.face[place] = rows.face[source]
