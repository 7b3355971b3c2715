"""Walking the tree of boxes along packets of parallel lines: compiled, on all cores.

A screw is cast as its axis and a ring round it: lines that run side by side through the same
boxes and mostly the same triangles. One walk serves all of them: each node is tested once for
the whole packet, then for the lines that are still alive. A line by itself is a packet of one.

Everything is seen in the sheared frame of the packet, where its lines are points of a plane and
boxes and triangles are their shadows on it. Boxes and edges only *reject*, in float32 and with a
bound on what rounding can do; what they leave is settled by the rule of `trajplan.bone._rule`,
step by step, for that very line. Crossings are therefore those of a line cast alone, to the last
bit. A compiled function is kept on disk until its own file changes, so all that it calls stands
in this file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numba
import numpy as np

from trajplan.bone._jit import jit, jit_inline, jit_parallel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.arrays import Floats, Ints, Vec3, Vec3s
    from trajplan.bone._rows import Rows, Tree

    Shadow: TypeAlias = tuple[
        np.float32, np.float32, np.float32, np.float32, np.float32, np.float32
    ]  # fmt: skip
    Float32s: TypeAlias = NDArray[np.float32]
    Line: TypeAlias = tuple[float, float, float, float, float, float]
    Frame: TypeAlias = tuple[int, int, int, float, float, float, float, float, float]

__all__ = ["walk"]

#: The constants of `_rule`; a test holds them equal.
SPLITTER = 134217729.0
FLAT = 1e-100
CLOSE = 1e-6
#: Lines of a packet at most, as in `_rows`.
LANES = 24
#: Lines that one thread takes at a time; one set of buffers serves them all.
BLOCK = 64
#: Nodes that may wait. A level of the tree leaves three waiting, and the tree of four children
#: is no deeper than that of two which it is made of (`_build.STACK`).
STACK = 3 * 98 + 4
#: Part of the square of the largest coordinate within which an edge function in float32 rejects
#: nothing. Three coordinates rounded, two products, their sum: at most 30 roundings of 6e-8
#: of that square (1.8e-6), and where a sliver's own sign is wrong, 24 more.
SLACK = 4e-6
#: The same for coordinates: part of the model's size below which float64 itself is not sure.
LEAST = 1e-6
#: Place of the lowest bit by de Bruijn's sequence, which is multiplied and shifted.
DEBRUIJN = np.uint64(0x03F79D71B4CB0A89)
LOWEST_BIT = np.zeros(64, np.int64)
for _place in range(64):
    LOWEST_BIT[((1 << _place) * 0x03F79D71B4CB0A89 & (2**64 - 1)) >> 58] = _place


class _Buffers(NamedTuple):
    """What one thread works with: filled anew for each packet."""

    stack: Ints  # (STACK, 2) nodes that wait, and the lines that are alive there
    x: Float32s  # (LANES,) the lines in the packet's frame; NaN past the last
    y: Float32s  # (LANES,)
    w: Float32s  # (LANES,) across the way in which boxes shear
    shadow: Float32s  # (24,) of four boxes: low x, high x, low y, high y, low w, high w
    line: Floats  # (LANES, 4) nearest point to the centre in the order of the frame, its depth
    depth: Floats  # (LANES, room) crossings of each line
    what: Ints  # (LANES, room) twice the face, one more where the line leaves
    number: Ints  # (LANES,) of them


class _Packet(NamedTuple):
    """The frame of a packet, and the shadow of all its lines."""

    x: np.uint64  # the axes in order; the line runs along the third
    y: np.uint64
    z: np.uint64
    shear_x: float
    shear_y: float
    scale: float
    at_x: float  # where the first line meets the plane of the other two
    at_y: float
    box: _BoxFrame


class _BoxFrame(NamedTuple):
    """The same for boxes, which are float32 and relative to the centre."""

    x: np.uint64  # where the low sides of four boxes lie in a node
    y: np.uint64
    far_x: np.uint64  # sides along the line that make the shadow's low x lowest, high x highest
    near_x: np.uint64
    far_y: np.uint64
    near_y: np.uint64
    low_wx: np.uint64  # sides that make the shadow's w lowest and highest
    high_wx: np.uint64
    low_wy: np.uint64
    high_wy: np.uint64
    shear_x: np.float32
    shear_y: np.float32
    at_x: np.float32
    at_y: np.float32
    at_w: np.float32
    low_x: np.float32  # the shadow of the packet
    high_x: np.float32
    low_y: np.float32
    high_y: np.float32
    low_w: np.float32
    high_w: np.float32


@jit_parallel
def walk(tree: Tree, origin: Vec3s, direction: Vec3s, first: Ints, room: int, rows: Rows) -> None:
    """Find every crossing of every line, sorted by depth, then by face.

    Parameters
    ----------
    tree : Tree
        Triangles.
    origin, direction : (m, 3) float array
        Lines; no direction is zero.
    first : (p + 1,) int array
        Where each packet begins, as of `packets`.
    room : int
        The most crossings of a line that are kept.
    rows : Rows
        Filled, apart from `start` and `room`.
    """
    count = len(first) - 1
    step = max(1, BLOCK * count // max(1, len(origin)))
    for block in numba.prange((count + step - 1) // step):
        buffers = _buffers(room)
        for i in range(block * step, min(count, (block + 1) * step)):
            _walk_packet(tree, origin, direction, rows, first[i], first[i + 1], buffers)


@jit
def _buffers(room: int) -> _Buffers:
    return _Buffers(
        np.empty((STACK, 2), np.int64),
        np.empty(LANES, np.float32),
        np.empty(LANES, np.float32),
        np.empty(LANES, np.float32),
        np.empty(24, np.float32),
        np.empty((LANES, 4)),
        np.empty((LANES, room)),
        np.empty((LANES, room), np.int64),
        np.empty(LANES, np.int64),
    )


@jit_inline
def _walk_packet(
    tree: Tree, origin: Vec3s, direction: Vec3s, rows: Rows, first: int, end: int, buffers: _Buffers
) -> None:
    """Find and sort the crossings of the lines of one packet."""
    packet = _set_up(tree.centre, origin, direction, first, end, buffers)
    _descend(tree, packet, end - first, buffers)
    _write(rows, first, end, buffers)


@jit_inline
def _set_up(
    centre: Vec3, origin: Vec3s, direction: Vec3s, first: int, end: int, buffers: _Buffers
) -> _Packet:
    """The frame of a packet, and its lines in it."""
    line = buffers.line
    d = (direction[first, 0], direction[first, 1], direction[first, 2])
    start, _ = _slide((origin[first, 0], origin[first, 1], origin[first, 2], *d), centre)
    kx, ky, kz, ox, oy, oz, shear_x, shear_y, scale = _line_frame(start)
    cx, cy, cz = centre[kx], centre[ky], centre[kz]
    at_x = (ox - cx) - shear_x * (oz - cz)
    at_y = (oy - cy) - shear_y * (oz - cz)
    low_x = low_y = low_w = np.float32(np.inf)
    high_x = high_y = high_w = np.float32(-np.inf)
    for i in range(first, end):
        j = i - first
        moved, shift = _slide((origin[i, 0], origin[i, 1], origin[i, 2], *d), centre)
        o = moved[:3]
        line[j, 0], line[j, 1], line[j, 2], line[j, 3] = o[kx], o[ky], o[kz], shift
        beside_x = (o[kx] - cx) - shear_x * (o[kz] - cz) - at_x
        beside_y = (o[ky] - cy) - shear_y * (o[kz] - cz) - at_y
        x, y = np.float32(beside_x), np.float32(beside_y)
        w = np.float32(shear_y * beside_x - shear_x * beside_y)
        buffers.x[j], buffers.y[j], buffers.w[j] = x, y, w
        low_x, high_x = min(low_x, x), max(high_x, x)
        low_y, high_y = min(low_y, y), max(high_y, y)
        low_w, high_w = min(low_w, w), max(high_w, w)
        buffers.number[j] = 0
    if end - first > 1:  # of a line alone no other lane is looked at
        for j in range(end - first, LANES):
            buffers.x[j] = buffers.y[j] = buffers.w[j] = np.nan
    ux, uy, uz = np.uint64(kx), np.uint64(ky), np.uint64(kz)
    x_low, x_high = ux * np.uint64(4), ux * np.uint64(4) + np.uint64(12)
    y_low, y_high = uy * np.uint64(4), uy * np.uint64(4) + np.uint64(12)
    z_low, z_high = uz * np.uint64(4), uz * np.uint64(4) + np.uint64(12)
    far_x, near_x = (z_high, z_low) if shear_x > 0 else (z_low, z_high)
    far_y, near_y = (z_high, z_low) if shear_y > 0 else (z_low, z_high)
    low_wx, high_wx = (x_low, x_high) if shear_y > 0 else (x_high, x_low)
    low_wy, high_wy = (y_high, y_low) if shear_x > 0 else (y_low, y_high)
    box = _BoxFrame(
        x_low, y_low, far_x, near_x, far_y, near_y, low_wx, high_wx, low_wy, high_wy,
        np.float32(shear_x), np.float32(shear_y), np.float32(at_x), np.float32(at_y),
        np.float32(shear_y * at_x - shear_x * at_y), low_x, high_x, low_y, high_y, low_w, high_w,
    )  # fmt: skip
    return _Packet(
        ux, uy, uz, shear_x, shear_y, scale,
        cx + at_x - shear_x * cz, cy + at_y - shear_y * cz, box,
    )  # fmt: skip


@jit_inline
def _descend(tree: Tree, packet: _Packet, lines: int, buffers: _Buffers) -> None:
    """Walk the tree; each node that waits knows which of the lines meet its box."""
    # arrays by themselves: to count the references of a tuple of them costs more than the walk
    box, link, corners, order = tree.node, tree.link, tree.corners, tree.order
    stack, x, y, w, shadow, line, depth, what, count = buffers
    least = np.float32(LEAST * tree.reach)
    stack[0, 0], stack[0, 1] = 0, (1 << lines) - 1
    top = 1
    while top > 0:
        top -= 1
        node, live = stack[top, 0], stack[top, 1]
        single = (live & (live - 1)) == 0
        hit = _meets(box, node, packet.box, live, x, y, w, shadow)
        while hit != 0:
            i = _lowest(hit)
            hit &= hit - 1
            low_x, high_x, low_y, high_y = shadow[i], shadow[4 + i], shadow[8 + i], shadow[12 + i]
            mask = live
            if not single:
                mask &= _inside(
                    x, y, w, (low_x, high_x, low_y, high_y, shadow[16 + i], shadow[20 + i])
                )
                if mask == 0:
                    continue
            child = int(link[np.uint64(node) * np.uint64(32) + np.uint64(24) + np.uint64(i)])
            if child >= 0:
                stack[top, 0], stack[top, 1] = child, mask
                top += 1
                continue
            size = max(abs(low_x), abs(high_x), abs(low_y), abs(high_y))
            slack = np.float32(SLACK) * max(least, size) ** 2
            _test_leaf(
                corners, order, -1 - child, mask, packet, slack, x, y, line, depth, what, count
            )


@jit_inline
def _lowest(mask: int) -> int:
    """Place of the lowest bit that is set."""
    return int(LOWEST_BIT[(np.uint64(mask & -mask) * DEBRUIJN) >> np.uint64(58)])


@jit_inline
def _meets(
    node: Float32s, first: int, frame: _BoxFrame, live: int, x: Float32s, y: Float32s,
    w: Float32s, shadow: Float32s,
) -> int:  # fmt: skip
    """Which of the four children the packet, or its only live line, may meet; their shadows.

    The shadow of a box is a hexagon. A line meets the box if and only if its point lies in the
    hexagon's extents in x, in y, and in ``w = shear_y * x - shear_x * y``: of three intervals
    along the line every two must meet (Helly's theorem).
    """
    low_x, high_x, low_y, high_y = frame.low_x, frame.high_x, frame.low_y, frame.high_y
    low_w, high_w = frame.low_w, frame.high_w
    if (live & (live - 1)) == 0:
        j = _lowest(live)
        low_x = high_x = x[j]
        low_y = high_y = y[j]
        low_w = high_w = w[j]
    base, up = np.uint64(first) * np.uint64(32), np.uint64(12)
    hit = np.int32(0)
    for i in range(4):
        at = base + np.uint64(i)
        a = node[at + frame.x] - frame.shear_x * node[at + frame.far_x] - frame.at_x
        b = node[at + frame.x + up] - frame.shear_x * node[at + frame.near_x] - frame.at_x
        c = node[at + frame.y] - frame.shear_y * node[at + frame.far_y] - frame.at_y
        d = node[at + frame.y + up] - frame.shear_y * node[at + frame.near_y] - frame.at_y
        e = frame.shear_y * node[at + frame.low_wx] - frame.shear_x * node[at + frame.low_wy]
        f = frame.shear_y * node[at + frame.high_wx] - frame.shear_x * node[at + frame.high_wy]
        e, f = e - frame.at_w, f - frame.at_w
        shadow[i], shadow[i + 4], shadow[i + 8], shadow[i + 12] = a, b, c, d
        shadow[i + 16], shadow[i + 20] = e, f
        meets = (a <= high_x) & (b >= low_x) & (c <= high_y) & (d >= low_y)
        meets &= (e <= high_w) & (f >= low_w)
        hit = np.int32(hit | (np.int64(meets) << i))
    return int(hit)


@jit_inline
def _inside(x: Float32s, y: Float32s, w: Float32s, shadow: Shadow) -> int:
    """Lines whose points lie in a shadow, a bit each."""
    low_x, high_x, low_y, high_y, low_w, high_w = shadow
    mask = np.int32(0)
    for j in range(LANES):
        hit = (x[j] >= low_x) & (x[j] <= high_x) & (y[j] >= low_y) & (y[j] <= high_y)
        hit &= (w[j] >= low_w) & (w[j] <= high_w)
        mask = np.int32(mask | (np.int64(hit) << j))
    return int(mask)


@jit_inline
def _test_leaf(
    corners: Floats, order: NDArray[np.int32], leaf: int, mask: int, packet: _Packet,
    slack: np.float32, x: Float32s, y: Float32s, line: Floats, depth: Floats, what: Ints,
    count: Ints,
) -> None:  # fmt: skip
    """Test the triangles of a leaf: rejected for all lines at once, what is left one by one."""
    first, end = leaf >> 3, (leaf >> 3) + (leaf & 7)
    single = (mask & (mask - 1)) == 0
    for k in range(first, end):
        left = mask
        if not single:
            left &= _shadowed(corners, k, packet, slack, x, y)
        while left != 0:
            j = _lowest(left)
            left &= left - 1
            side, at = _cross(corners, k, packet, line[j, 0], line[j, 1], line[j, 2])
            if side == 0:
                continue
            found = count[j]
            if found < depth.shape[1]:
                depth[j, found] = line[j, 3] + at
                what[j, found] = np.int64(order[k]) * 2 + (side > 0)
            count[j] = found + 1


@jit_inline
def _shadowed(
    corners: Floats, k: int, packet: _Packet, slack: np.float32, px: Float32s, py: Float32s
) -> int:
    """Lines that may run through a triangle's shadow, a bit each."""
    at = np.uint64(k) * np.uint64(9)
    x, y, z = at + packet.x, at + packet.y, at + packet.z
    three, six = np.uint64(3), np.uint64(6)
    za, zb, zc = corners[z], corners[z + three], corners[z + six]
    xa = np.float32(corners[x] - packet.shear_x * za - packet.at_x)
    ya = np.float32(corners[y] - packet.shear_y * za - packet.at_y)
    xb = np.float32(corners[x + three] - packet.shear_x * zb - packet.at_x)
    yb = np.float32(corners[y + three] - packet.shear_y * zb - packet.at_y)
    xc = np.float32(corners[x + six] - packet.shear_x * zc - packet.at_x)
    yc = np.float32(corners[y + six] - packet.shear_y * zc - packet.at_y)
    u = (yb - yc, xc - xb, xb * yc - yb * xc)
    v = (yc - ya, xa - xc, xc * ya - yc * xa)
    w = (ya - yb, xb - xa, xa * yb - ya * xb)
    if u[2] + v[2] + w[2] < 0:  # turned so that inside is positive
        u, v, w = (-u[0], -u[1], -u[2]), (-v[0], -v[1], -v[2]), (-w[0], -w[1], -w[2])
    mask = np.int32(0)
    for j in range(LANES):
        hit = (
            (u[0] * px[j] + u[1] * py[j] >= -slack - u[2])
            & (v[0] * px[j] + v[1] * py[j] >= -slack - v[2])
            & (w[0] * px[j] + w[1] * py[j] >= -slack - w[2])
        )
        mask = np.int32(mask | (np.int64(hit) << j))
    return int(mask)


@jit_inline
def _cross(
    corners: Floats, k: int, packet: _Packet, ox: float, oy: float, oz: float
) -> tuple[int, float]:
    """Sign of a line's crossing with a triangle (0: none) and its depth."""
    shear_x, shear_y, scale = packet.shear_x, packet.shear_y, packet.scale
    at = np.uint64(k) * np.uint64(9)
    x, y, z = at + packet.x, at + packet.y, at + packet.z
    three, six = np.uint64(3), np.uint64(6)
    z0, z1, z2 = corners[z] - oz, corners[z + three] - oz, corners[z + six] - oz
    x0 = corners[x] - ox - shear_x * z0
    x1 = corners[x + three] - ox - shear_x * z1
    x2 = corners[x + six] - ox - shear_x * z2
    y0 = corners[y] - oy - shear_y * z0
    y1 = corners[y + three] - oy - shear_y * z1
    y2 = corners[y + six] - oy - shear_y * z2
    w0 = x1 * y2 - y1 * x2
    w1 = x2 * y0 - y2 * x0
    w2 = x0 * y1 - y0 * x1
    if (w0 > 0 or w1 > 0 or w2 > 0) and (w0 < 0 or w1 < 0 or w2 < 0):
        return 0, 0.0
    side = _side(w0, x1, y1, x2, y2)
    if side == 0 or side != _side(w1, x2, y2, x0, y0) or side != _side(w2, x0, y0, x1, y1):
        return 0, 0.0
    area = w0 + w1 + w2
    if abs(area) < CLOSE * (abs(x1 * y2) + abs(x2 * y0) + abs(x0 * y1)):
        w0, w1, w2 = _fine(x1, y1, x2, y2), _fine(x2, y2, x0, y0), _fine(x0, y0, x1, y1)
        area = w0 + w1 + w2
    depth = (w0 * z0 + w1 * z1 + w2 * z2) / area if area != 0 else (z0 + z1 + z2) / 3
    return (side if scale > 0 else -side), depth / scale


@jit_inline
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
def _fine(xa: float, ya: float, xb: float, yb: float) -> float:
    """Twice the area between the line and an edge, with what rounding took from it."""
    return (xa * yb - ya * xb) + (_product_error(xa, yb) - _product_error(ya, xb))


@jit
def _product_error(a: float, b: float) -> float:
    """Give what rounding took from the product."""
    a_high = SPLITTER * a - (SPLITTER * a - a)
    b_high = SPLITTER * b - (SPLITTER * b - b)
    a_low, b_low = a - a_high, b - b_high
    return ((a_high * b_high - a * b) + a_high * b_low + a_low * b_high) + a_low * b_low


@jit_inline
def _slide(line: Line, centre: Vec3) -> tuple[Line, float]:
    """Line from its point nearest to the centre, and the depth of that point."""
    ox, oy, oz, dx, dy, dz = line
    along = dx * (centre[0] - ox) + dy * (centre[1] - oy) + dz * (centre[2] - oz)
    shift = along / (dx * dx + dy * dy + dz * dz)
    return (ox + shift * dx, oy + shift * dy, oz + shift * dz, dx, dy, dz), shift


@jit_inline
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


@jit_inline
def _write(rows: Rows, first: int, end: int, buffers: _Buffers) -> None:
    """Write what the lanes found as lines, each sorted by depth, then by face."""
    start, room, total = rows.start, rows.room, rows.found
    to_depth, to_sign, to_face = rows.depth, rows.sign, rows.face
    depth, what, count = buffers.depth, buffers.what, buffers.number
    for i in range(first, end):
        j = i - first
        kept = min(count[j], room[i])
        for a in range(1, kept):  # insertion, as they are few
            here, it = depth[j, a], what[j, a]
            b = a
            while b > 0 and (
                depth[j, b - 1] > here or (depth[j, b - 1] == here and what[j, b - 1] > it)
            ):
                depth[j, b], what[j, b] = depth[j, b - 1], what[j, b - 1]
                b -= 1
            depth[j, b], what[j, b] = here, it
        total[i] = count[j]
        at = start[i]
        for a in range(kept):
            to_depth[at + a], to_face[at + a] = depth[j, a], what[j, a] >> 1
            to_sign[at + a] = (what[j, a] & 1) * 2 - 1
