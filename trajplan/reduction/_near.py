"""Nearest points of a cloud, in any number of dimensions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints

__all__ = ["nearest", "neighbours"]


def nearest(tree: cKDTree, points: Floats, within: float = np.inf) -> tuple[Floats, Ints]:
    """Distance of the nearest point of a cloud, (n,), and its row; infinite if none is near."""
    distance, row = tree.query(points, distance_upper_bound=within)
    return np.asarray(distance, dtype=np.float64), np.asarray(row, dtype=np.int64)


def neighbours(points: Floats, count: int, within: float = np.inf) -> tuple[Floats, Ints]:
    """Distances (n, k) and rows (n, k) of the nearest points of the same cloud, itself first."""
    k = min(count, len(points))
    distance, row = cKDTree(points).query(points, k=k, distance_upper_bound=within)
    shape = (len(points), k)
    return np.asarray(distance).reshape(shape), np.asarray(row, dtype=np.int64).reshape(shape)
