"""Building the tree of boxes: compiled, one core, self-contained (see `_walk`).

A tree of two children is built by area, then drawn together to four: a walk then tests four
boxes side by side, which a processor does in the time of one.

References
----------
.. [1] I. Wald, "On fast construction of SAH-based bounding volume hierarchies", IEEE
   Symposium on Interactive Ray Tracing, 2007 (binned surface-area splits).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._jit import jit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.arrays import Floats, Ints

__all__ = ["LEAF", "STACK", "build", "collapse"]

#: Triangles in a leaf at most; fits the three bits that `collapse` gives it.
LEAF = 4
#: Bins along the longest side that compete for the best split.
BINS = 16
#: From this depth on nodes are halved by number, so that no input makes a deep tree: even
#: 2**31 triangles end less than 31 levels below.
HALVE_BELOW = 64
#: Nodes that may wait while a tree is built or walked; above any depth.
STACK = HALVE_BELOW + 34


@jit
def build(
    low: Floats,
    high: Floats,
    order: Ints,
    box: Floats,
    link: NDArray[np.int32],
    size: NDArray[np.int32],
) -> int:
    """Build the tree.

    Parameters
    ----------
    low, high : (f, 3) float array
        Boxes of the triangles.
    order : (f,) int array
        The numbers 0 to f - 1; sorted in place into the order of the leaves.
    box : (2 f, 6) float array
        Filled with the low and high corner of each node.
    link : (2 f,) int array
        Filled: first of two neighbouring children, or first triangle of a leaf.
    size : (2 f,) int array
        Filled: triangles of a leaf, 0 for an inner node.

    Returns
    -------
    int
        Number of nodes used.
    """
    waiting = np.empty((STACK, 4), np.int64)  # node, first triangle, end, depth
    waiting[0] = (0, 0, len(order), 0)
    top, nodes = 1, 1
    while top > 0:
        top -= 1
        node, first, end, depth = waiting[top]
        _enclose(low, high, order, first, end, box[node])
        if end - first <= LEAF:
            link[node], size[node] = first, end - first
            continue
        cut = _cut(low, high, order, first, end, depth)
        link[node], size[node] = nodes, 0
        # the larger part waits, so that the stack stays as short as the tree is deep
        waiting[top] = (nodes + 1, cut, end, depth + 1)
        waiting[top + 1] = (nodes, first, cut, depth + 1)
        top += 2
        nodes += 2
    return nodes


@jit
def _enclose(low: Floats, high: Floats, order: Ints, first: int, end: int, box: Floats) -> None:
    """Box around the triangles ``order[first:end]``."""
    box[:3] = np.inf
    box[3:] = -np.inf
    for k in range(first, end):
        for axis in range(3):
            box[axis] = min(box[axis], low[order[k], axis])
            box[axis + 3] = max(box[axis + 3], high[order[k], axis])


@jit
def _cut(low: Floats, high: Floats, order: Ints, first: int, end: int, depth: int) -> int:
    """Sort ``order[first:end]`` into two parts; returns where the second begins."""
    half = (first + end) // 2
    axis, least, extent = _longest_side(low, high, order, first, end)
    if extent <= 0 or depth >= HALVE_BELOW:
        return half
    scale = BINS / extent * (1 - 1e-9)
    bin_ = _best_bin(low, high, order, first, end, axis, least, scale)
    cut = _partition(low, high, order, first, end, axis, least, scale, bin_)
    return cut if first < cut < end else half


@jit
def _longest_side(
    low: Floats, high: Floats, order: Ints, first: int, end: int
) -> tuple[int, float, float]:
    """Axis along which the middles (times 2) spread most, their least, their spread."""
    best_axis, best_least, best_extent = 0, 0.0, -1.0
    for axis in range(3):
        least, most = np.inf, -np.inf
        for k in range(first, end):
            twice = low[order[k], axis] + high[order[k], axis]
            least = min(least, twice)
            most = max(most, twice)
        if most - least > best_extent:
            best_axis, best_least, best_extent = axis, least, most - least
    return best_axis, best_least, best_extent


@jit
def _best_bin(
    low: Floats,
    high: Floats,
    order: Ints,
    first: int,
    end: int,
    axis: int,
    least: float,
    scale: float,
) -> int:
    """Last bin of the left part for the least sum of area times number of triangles."""
    count = np.zeros(BINS, np.int64)
    bins = np.empty((BINS, 6))
    bins[:, :3] = np.inf
    bins[:, 3:] = -np.inf
    for k in range(first, end):
        face = order[k]
        b = int((low[face, axis] + high[face, axis] - least) * scale)
        count[b] += 1
        for j in range(3):
            bins[b, j] = min(bins[b, j], low[face, j])
            bins[b, j + 3] = max(bins[b, j + 3], high[face, j])
    left = _running_cost(count, bins)
    right = _running_cost(count[::-1], bins[::-1])[::-1]
    return int(np.argmin(left[:-1] + right[1:]))


@jit
def _running_cost(count: Ints, bins: Floats) -> Floats:
    """Area times number for the first bin, the first two, and so on."""
    cost = np.zeros(BINS)
    box = np.array([np.inf, np.inf, np.inf, -np.inf, -np.inf, -np.inf])
    total = 0
    for b in range(BINS):
        total += count[b]
        for j in range(3):
            box[j] = min(box[j], bins[b, j])
            box[j + 3] = max(box[j + 3], bins[b, j + 3])
        if total > 0:
            x, y, z = box[3] - box[0], box[4] - box[1], box[5] - box[2]
            cost[b] = (x * y + y * z + z * x) * total
    return cost


@jit
def _partition(
    low: Floats,
    high: Floats,
    order: Ints,
    first: int,
    end: int,
    axis: int,
    least: float,
    scale: float,
    bin_: int,
) -> int:
    """Bring the triangles of the bins up to ``bin_`` to the front; returns the cut."""
    left, right = first, end - 1
    while left <= right:
        face = order[left]
        if int((low[face, axis] + high[face, axis] - least) * scale) <= bin_:
            left += 1
        else:
            order[left], order[right] = order[right], order[left]
            right -= 1
    return left


@jit
def collapse(
    box: Floats,
    link: NDArray[np.int32],
    size: NDArray[np.int32],
    padding: float,
    node: NDArray[np.float32],
    child: NDArray[np.int32],
) -> int:
    """Draw the tree of two children together to one of four.

    Parameters
    ----------
    box, link, size : arrays
        The tree, as of `build`.
    padding : float, mm
        By which each box grows outwards.
    node : (k, 32) float array
        Filled: four low x, four low y, four low z, the same of the high sides; NaN where there
        is no child.
    child : (k, 32) int array
        The memory of `node` as numbers; filled from the 24th on: the row of an inner child, or
        -1 less eight times the first triangle of a leaf plus their number.

    Returns
    -------
    int
        Rows used.
    """
    waiting = np.empty((3 * STACK, 2), np.int64)  # row, node of the tree of two
    waiting[0] = (0, 0)
    top, rows = 1, 1
    kin = np.empty(4, np.int64)
    while top > 0:
        top -= 1
        row, parent = waiting[top]
        count = _descendants(box, link, size, parent, kin)
        node[row, :24] = np.nan
        for i in range(count):
            k = kin[i]
            for axis in range(3):
                node[row, axis * 4 + i] = box[k, axis] - padding
                node[row, axis * 4 + 12 + i] = box[k, axis + 3] + padding
            if size[k] > 0:
                child[row, 24 + i] = -1 - (link[k] * 8 + size[k])
                continue
            child[row, 24 + i] = rows
            waiting[top] = (rows, k)
            top += 1
            rows += 1
    return rows


@jit
def _descendants(
    box: Floats, link: NDArray[np.int32], size: NDArray[np.int32], parent: int, kin: Ints
) -> int:
    """Up to four nodes that make up a node: the largest inner one is opened again and again."""
    kin[0] = parent
    count = 1
    while count < 4:
        best, most = -1, -1.0
        for i in range(count):
            k = kin[i]
            if size[k] == 0:
                x, y, z = box[k, 3] - box[k, 0], box[k, 4] - box[k, 1], box[k, 5] - box[k, 2]
                area = x * y + y * z + z * x
                if area > most:
                    best, most = i, area
        if best < 0:
            break
        k = kin[best]
        kin[best] = link[k]
        kin[count] = link[k] + 1
        count += 1
    return count
