"""Lines in packets, the tree that they walk, and the rows of crossings that come of it.

What is compiled here is called from Python alone (see `trajplan.bone._walk`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numba
import numpy as np

from trajplan.bone._jit import jit, jit_parallel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.arrays import Floats, Int8s, Ints, Vec3, Vec3s

__all__ = ["LANES", "Rows", "Tree", "pack", "packets"]

#: Lines of a packet at most: an axis and a ring of sixteen, up to a multiple of eight lanes.
LANES = 24
#: mm from the first line of a packet to each other one: wider than any head or washer, and
#: narrow enough that lines of unlike screws are not walked together.
WIDTH = 25.0


class Tree(NamedTuple):
    """A tree of boxes over triangles, see `trajplan.bone._build`."""

    centre: Vec3  # (3,) what `node` is relative to
    reach: float  # mm, largest coordinate of anything
    node: NDArray[np.float32]  # (k * 32,) per node: 4 low x, y, z, 4 high x, y, z, 8 more
    link: NDArray[np.int32]  # the same memory: from the 24th on, where the four children lie
    corners: Floats  # (f * 9,) triangles in the order of the leaves
    order: NDArray[np.int32]  # (f,) the face that each row of `corners` is


class Rows(NamedTuple):
    """Where crossings are written: line i from ``start[i]`` on, at most ``room[i]``."""

    start: Ints  # (m,)
    room: Ints  # (m,)
    found: Ints  # (m,) crossings found, whether or not there was room
    depth: Floats  # (h,)
    sign: Int8s  # (h,)
    face: Ints  # (h,)


@jit
def packets(origin: Vec3s, direction: Vec3s) -> Ints:
    """Cut lines into packets: neighbours that run parallel, to the last bit, and near.

    Parameters
    ----------
    origin, direction : (m, 3) float array
        Lines.

    Returns
    -------
    (p + 1,) int array
        Where each packet begins, and where the last one ends.
    """
    first = np.empty(len(origin) + 1, np.int64)
    count = 0
    begin = 0
    for i in range(len(origin)):
        together = 0 < i - begin < LANES
        apart = 0.0
        for axis in range(3):
            together = together and direction[i, axis] == direction[begin, axis]
            apart += (origin[i, axis] - origin[begin, axis]) ** 2
        if not together or apart > WIDTH * WIDTH:
            first[count] = begin = i
            count += 1
    first[count] = len(origin)
    return first[: count + 1]


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
