"""Dividing a surface into the parts that planes describe best."""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture._cells import plane_error, sum_up
from trajplan.fracture._edges import pieces_of

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.fracture._cells import Cells

__all__ = ["best_division", "merge_order"]

#: Rounds in which seams move; they settle after a few.
ROUNDS = 30


def merge_order(cells: Cells) -> Ints:
    """Merge neighbours one by one, always where the planes lose least.

    Parameters
    ----------
    cells : Cells
        ``c`` cells, all connected.

    Returns
    -------
    (c - 1, 2) int array
        In each step the second part is merged into the first.

    Notes
    -----
    The loss is the growth of the squared heights over the best planes, integrated over the
    area: Ward's criterion with planes in place of means.

    References
    ----------
    .. [1] Garland, Willmott & Heckbert 2001, "Hierarchical face clustering on polygonal
       surfaces" (from memory).
    """
    moments = cells.moments.copy()
    error = plane_error(moments)
    near = _neighbours(cells)
    version = np.zeros(len(moments), dtype=np.int64)

    def offers(part: int, others: list[int]) -> list[tuple[float, int, int, int, int]]:
        loss = plane_error(moments[part] + moments[others]) - error[part] - error[others]
        return [
            (float(cost), part, other, int(version[part]), int(version[other]))
            for cost, other in zip(loss, others, strict=True)
        ]

    heap = [o for part, others in enumerate(near) for o in offers(part, sorted(others)) if others]
    heapify(heap)
    order: list[tuple[int, int]] = []
    while len(order) < len(moments) - 1:
        _, part, other, age, other_age = heappop(heap)
        if version[part] != age or version[other] != other_age:
            continue
        order.append((part, other))
        moments[part] += moments[other]
        error[part] = plane_error(moments[part])
        version[part] += 1
        version[other] += 1
        near[part] = (near[part] | near[other]) - {part, other}
        for third in near[other] - {part}:
            near[third].discard(other)
            near[third].add(part)
        for offer in offers(part, sorted(near[part])):
            heappush(heap, offer)
    return np.array(order, dtype=np.int64).reshape(-1, 2)


def best_division(cells: Cells, order: Ints, count: int) -> tuple[Ints, float]:
    """Divide a surface into a number of connected parts, each near a plane of its own.

    Parameters
    ----------
    cells : Cells
        ``c`` cells.
    order : (c - 1, 2) int array
        As of `merge_order`.
    count : int
        Parts, from 1 to ``c``.

    Returns
    -------
    part : (c,) int array
        Part of each cell, 0 to ``count - 1``.
    rms : float, mm
        Root mean square height of the surface over the planes of its parts.

    Notes
    -----
    The merged parts are where k planes start; then in turn each cell on a seam goes to the
    plane that it fits best, and the planes are fitted again, as in Lloyd's method.
    """
    part = _merged(order[: len(cells.moments) - count], len(cells.moments))
    for _ in range(ROUNDS):
        moved = _moved_seams(cells, part, count)
        if (moved == part).all() or len(np.unique(moved)) < count:
            break
        part = moved
    error = plane_error(sum_up(cells.moments, part, count))
    return part, float(np.sqrt(error.sum() / cells.area.sum()))


def _neighbours(cells: Cells) -> list[set[int]]:
    near: list[set[int]] = [set() for _ in range(len(cells.moments))]
    for a, b in cells.links.tolist():
        near[a].add(b)
        near[b].add(a)
    return near


def _merged(order: Ints, count: int) -> Ints:
    """Number of the part of each cell after the given merges."""
    into = np.arange(count)
    into[order[:, 1]] = order[:, 0]
    while (into != into[into]).any():
        into = into[into]
    return np.unique(into, return_inverse=True)[1].reshape(-1)


def _moved_seams(cells: Cells, part: Ints, count: int) -> Ints:
    """Parts after each cell on a seam has chosen among its own plane and its neighbours'."""
    cost = _cost(cells, part, count)
    rows = np.arange(len(part))
    cost[rows, part] -= 1e-9 * cells.area  # mm⁴: a tie moves nothing
    open_ = np.zeros(cost.shape, dtype=np.bool_)
    open_[rows, part] = True
    for a, b in (cells.links.T, cells.links[:, ::-1].T):
        open_[a, part[b]] = True
    return _connected(cells, np.where(open_, cost, np.inf).argmin(axis=1), cost)


def _cost(cells: Cells, part: Ints, count: int) -> Floats:
    """Squared heights of each cell over the plane of each part, (c, count) mm⁴."""
    moments = sum_up(cells.moments, part, count)
    middle = moments[:, :3, 3] / np.maximum(moments[:, 3, 3], np.finfo(float).tiny)[:, None]
    scatter = moments[:, :3, :3] - moments[:, :3, 3, None] * middle[:, None, :]
    normal = np.linalg.eigh(scatter)[1][:, :, 0]
    plane = np.column_stack([normal, -np.einsum("ij,ij->i", normal, middle)])
    cost: Floats = np.einsum("ki,cij,kj->ck", plane, cells.moments, plane, optimize=True)
    return cost


def _connected(cells: Cells, part: Ints, cost: Floats) -> Ints:
    """Give what a seam cut off from the main piece of its part to a neighbour."""
    inner = part[cells.links[:, 0]] == part[cells.links[:, 1]]
    piece = pieces_of(cells.links[inner], len(part))
    area = np.bincount(piece, weights=cells.area)
    of_part = np.zeros(len(area), dtype=np.int64)
    of_part[piece] = part
    main = np.zeros(len(area), dtype=np.bool_)
    by_area = np.lexsort((-area, of_part))
    main[by_area[np.unique(of_part[by_area], return_index=True)[1]]] = True
    settled, part = main[piece], part.copy()
    both = np.concatenate([cells.links, cells.links[:, ::-1]])
    while not settled.all():
        loose, firm = both[~settled[both[:, 0]] & settled[both[:, 1]]].T
        best = np.lexsort((cost[loose, part[firm]], loose))
        cell, first = np.unique(loose[best], return_index=True)
        part[cell] = part[firm[best[first]]]
        settled[cell] = True
    return part
