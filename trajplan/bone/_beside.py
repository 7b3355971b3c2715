"""Walking the tree of boxes along many segments that have a thickness: compiled, on all cores.

A compiled function is kept on disk until its own file changes, so all that it calls stands in
this file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numba
import numpy as np

from trajplan.bone._jit import jit, jit_parallel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone._rows import Tree

    Thick: TypeAlias = tuple[float, float, float, float, float, float, float]

__all__ = ["gather"]

#: Segments that one thread takes at a time; one stack serves them all.
BLOCK = 64
#: Nodes that may wait, as in `_walk`.
STACK = 3 * 98 + 4


@jit_parallel
def gather(
    tree: Tree, start: Vec3s, end: Vec3s, reach: Floats, first: Ints, found: Ints, face: Ints
) -> None:
    """Find the triangles whose boxes come within reach of segments.

    Parameters
    ----------
    tree : Tree
        Triangles.
    start, end : (m, 3) float array
        Ends of the segments.
    reach : (m,) float array
        Reach of each.
    first : (m + 1,) int array
        Where the faces of each segment are written in `face`.
    found : (m,) int array
        Filled: triangles found, whether or not there was room.
    face : (h,) int array
        Filled, as far as there is room.
    """
    for block in numba.prange((len(start) + BLOCK - 1) // BLOCK):
        stack = np.empty(STACK, np.int32)
        for i in range(block * BLOCK, min(len(start), (block + 1) * BLOCK)):
            _gather_row(tree, start, end, reach, first, found, face, i, stack)


@jit
def _gather_row(
    tree: Tree,
    start: Vec3s,
    end: Vec3s,
    reach: Floats,
    first: Ints,
    found: Ints,
    face: Ints,
    i: int,
    stack: NDArray[np.int32],
) -> None:
    """Triangles near segment i."""
    thick = (
        start[i, 0] - tree.centre[0], start[i, 1] - tree.centre[1], start[i, 2] - tree.centre[2],
        end[i, 0] - start[i, 0], end[i, 1] - start[i, 1], end[i, 2] - start[i, 2], reach[i],
    )  # fmt: skip
    count = 0
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        row = stack[top] * 32
        for c in range(4):
            if not _near(tree.node, row + c, thick):
                continue
            child = tree.link[row + 24 + c]
            if child >= 0:
                stack[top] = child
                top += 1
                continue
            leaf = -1 - np.int64(child)
            for k in range(leaf >> 3, (leaf >> 3) + (leaf & 7)):
                if first[i] + count < first[i + 1]:
                    face[first[i] + count] = tree.order[k]
                count += 1
    found[i] = count


@jit
def _near(node: NDArray[np.float32], at: int, thick: Thick) -> bool:
    """Whether a segment meets a box, grown by its reach on every side; of NaN there is none."""
    if np.isnan(node[at]):
        return False
    ox, oy, oz, dx, dy, dz, reach = thick
    near, far = _within(node[at] - reach - ox, node[at + 12] + reach - ox, dx, 0.0, 1.0)
    near, far = _within(node[at + 4] - reach - oy, node[at + 16] + reach - oy, dy, near, far)
    near, far = _within(node[at + 8] - reach - oz, node[at + 20] + reach - oz, dz, near, far)
    return bool(near <= far)


@jit
def _within(low: float, high: float, step: float, near: float, far: float) -> tuple[float, float]:
    """Part of a segment between two planes; a far below the near: none."""
    if step == 0.0:
        return (near, far) if low <= 0.0 <= high else (1.0, 0.0)
    a, b = low / step, high / step
    return max(near, min(a, b)), min(far, max(a, b))
