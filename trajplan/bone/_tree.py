"""The compiled engine. Importing this module imports numba."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numba
import numpy as np

from trajplan.arrays import offsets_of
from trajplan.bone._beside import gather
from trajplan.bone._build import build, collapse
from trajplan.bone._rows import Rows, Tree, pack, packets
from trajplan.bone._rule import middle
from trajplan.bone._types import Crossings
from trajplan.bone._walk import walk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["TreeCaster"]

#: Crossings of one line for which room is kept; a line with more is walked a second time.
ROOM = 16
#: Bytes of a line of the processor's cache.
CACHE_LINE = 64
#: Lines that are cast together; bounds the memory.
LINES_AT_ONCE = 200_000
#: Blocks of lines dealt to a core at a time: a core that is busy otherwise then takes fewer,
#: instead of keeping the others waiting (measured: a sixth faster on a loaded machine).
BLOCKS_AT_ONCE = 4
#: So few lines are cast on one core: to wake the others takes longer than to do their share
#: (measured: 0.1 ms for 100 lines, against up to 60 ms where another program uses the cores).
FEW_LINES = 1_000
#: Boxes grow outwards by this part of the largest coordinate, measured from the middle: 33
#: float32 roundings. A side of a box in a packet's frame is off by 11 of them at most, a line
#: by 4 (`_walk._meets`).
PADDING = 2e-6


class TreeCaster:
    """All crossings of endless lines with triangles, by a compiled tree of boxes.

    Boxes are float32, padded outwards; triangles are float64 and are tested by the rule of
    `trajplan.bone._rule`, which alone decides what is a crossing. Lines that follow one another
    and run parallel are walked together (`trajplan.bone._walk`).

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners; a corner shared by two triangles must be equal to the last bit.
    """

    __slots__ = ("_tree",)

    def __init__(self, triangles: Floats) -> None:
        triangles = np.ascontiguousarray(triangles, dtype=np.float64)
        faces = len(triangles)
        centre, order = middle(triangles), np.arange(faces)
        box = np.empty((2 * faces + 1, 6))
        link, size = np.zeros((2, 2 * faces + 1), np.int32)
        a, b, c = triangles.transpose(1, 0, 2)  # far faster than a reduction over three
        low = np.minimum(np.minimum(a, b), c) - centre
        high = np.maximum(np.maximum(a, b), c) - centre
        nodes = build(low, high, order, box, link, size)
        reach = np.abs(box[0]).max() if faces else 0.0
        node = np.full((nodes + 1, 32), np.nan, np.float32)  # no line meets a box of NaN
        if faces:
            rows = collapse(box, link, size, PADDING * reach, node, node.view(np.int32))
            node = node[:rows]
        flat = _on_lines(node.ravel())
        self._tree = Tree(
            centre, float(reach + np.abs(centre).max()), flat, flat.view(np.int32),
            _on_lines(triangles[order].ravel()), order.astype(np.int32),
        )  # fmt: skip

    def crossings(self, origin: Vec3s, direction: Vec3s) -> Crossings:
        """Every crossing of every line, sorted by depth in each row.

        Parameters
        ----------
        origin, direction : (m, 3) float array
            Endless lines; depth counts in lengths of `direction`.

        Returns
        -------
        Crossings
        """
        parts = [
            self._cast(origin[i : i + LINES_AT_ONCE], direction[i : i + LINES_AT_ONCE])
            for i in range(0, max(1, len(origin)), LINES_AT_ONCE)
        ]
        return parts[0] if len(parts) == 1 else _joined(parts)

    def beside(self, start: Vec3s, end: Vec3s, reach: Floats) -> tuple[Ints, Ints]:
        """Pairs of a segment and a triangle that may come within a reach of each other.

        Parameters
        ----------
        start, end : (m, 3) float array, mm
            Ends of the segments.
        reach : (m,) float array, mm
            Reach of each.

        Returns
        -------
        segment, face : (k,) int arrays
            All pairs that do, and some whose boxes alone come near.
        """
        start, end = (np.ascontiguousarray(ends, dtype=np.float64) for ends in (start, end))
        found = np.zeros(len(start), np.int64)
        if len(self._tree.corners) == 0:
            return found[:0], found[:0]
        first = np.arange(len(start) + 1) * ROOM
        face = np.empty(int(first[-1]), np.int64)
        with _cores(len(start)):
            gather(self._tree, start, end, reach, first, found, face)
            if (found > ROOM).any():
                first = offsets_of(found)
                face = np.empty(int(first[-1]), np.int64)
                gather(self._tree, start, end, reach, first, found, face)
        segment = np.repeat(np.arange(len(start)), found)
        place = np.arange(len(segment)) - np.repeat(np.cumsum(found) - found, found)
        return segment, face[first[segment] + place]

    def _cast(self, origin: Vec3s, direction: Vec3s) -> Crossings:
        origin = np.ascontiguousarray(origin, dtype=np.float64)
        direction = np.ascontiguousarray(direction, dtype=np.float64)
        lines = len(origin)
        rows = _rows(np.arange(lines) * ROOM, np.full(lines, ROOM), lines * ROOM)
        with _cores(lines):
            walk(self._tree, origin, direction, packets(origin, direction), ROOM, rows)
            offsets = offsets_of(rows.found)
            exact = _rows(offsets[:-1], rows.found, int(offsets[-1]))
            pack(rows, exact)
            crowded = np.flatnonzero(rows.found > ROOM)
            if len(crowded):
                again = exact._replace(
                    start=exact.start[crowded], room=exact.room[crowded], found=exact.found[crowded]
                )
                alone = np.arange(len(crowded) + 1)
                most = int(again.room.max())
                walk(self._tree, origin[crowded], direction[crowded], alone, most, again)
        return Crossings(offsets, exact.depth, exact.sign, exact.face)


@contextmanager
def _cores(lines: int) -> Iterator[None]:
    """Use one core for few lines, else all that were allowed."""
    allowed = numba.get_num_threads()
    if lines <= FEW_LINES:
        numba.set_num_threads(1)
    try:
        with numba.parallel_chunksize(BLOCKS_AT_ONCE):
            yield
    finally:
        numba.set_num_threads(allowed)


def _on_lines(array: Any) -> Any:  # noqa: ANN401 - any kind of number, the same kind back
    """Copy of an array that begins on a line of the cache: a node then fills two, not three."""
    room = np.empty(array.nbytes + CACHE_LINE, np.uint8)
    start = -room.ctypes.data % CACHE_LINE
    copy = room[start : start + array.nbytes].view(array.dtype)
    copy[:] = array
    return copy


def _rows(start: Ints, room: Ints, total: int) -> Rows:
    """Empty rows."""
    return Rows(
        start, room, np.zeros(len(start), np.int64),
        np.empty(total), np.empty(total, np.int8), np.empty(total, np.int64),
    )  # fmt: skip


def _joined(parts: list[Crossings]) -> Crossings:
    """Crossings of several batches of lines, one after the other."""
    return Crossings(
        offsets_of(np.concatenate([np.diff(part.offsets) for part in parts])),
        np.concatenate([part.depth for part in parts]),
        np.concatenate([part.sign for part in parts]),
        np.concatenate([part.face for part in parts]),
    )
