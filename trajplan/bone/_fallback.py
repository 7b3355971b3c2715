"""The plain engine, for where numba is missing: right, and slow.

Which triangles a line may meet is asked of trimesh's rtree engine; whether it crosses them
is decided by the rule of `trajplan.bone._rule`, as in the compiled engine. trimesh's own
triangle test is not used: it loses hits where a line runs nearly in a face, and it merges
crossings at the same place, which two touching fragments do have.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._rule import crossing_pairs, middle, near_origins, sorted_crossings

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone._types import Crossings

__all__ = ["FallbackCaster"]

#: Lines that are cast together; bounds the memory.
LINES_AT_ONCE = 1000


class FallbackCaster:
    """All crossings of endless lines with triangles, by an r-tree of their boxes.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners; a corner shared by two triangles must be equal to the last bit.
    """

    __slots__ = ("_centre", "_reach", "_tree", "_triangles")

    def __init__(self, triangles: Floats) -> None:
        from trimesh.triangles import bounds_tree

        self._triangles = np.asarray(triangles, dtype=np.float64)
        self._centre = middle(self._triangles)
        corners = self._triangles.reshape(-1, 3) - self._centre
        self._reach = 2.0 * float(np.linalg.norm(corners, axis=1).max(initial=0.0)) + 1.0
        self._tree = bounds_tree(self._triangles) if len(corners) else None

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
        from trimesh.ray.ray_triangle import ray_triangle_candidates

        near, shift = near_origins(origin, direction, self._centre)
        found = []
        for start in range(0, len(near) if self._tree is not None else 0, LINES_AT_ONCE):
            lines = slice(start, start + LINES_AT_ONCE)
            unit = direction[lines] / np.linalg.norm(direction[lines], axis=1)[:, None]
            # trimesh casts half lines: start them in front of everything
            face, line = ray_triangle_candidates(near[lines] - self._reach * unit, unit, self._tree)
            found.append(crossing_pairs(self._triangles, near, direction, face, line + start))
        return sorted_crossings(found, shift)

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
        low = np.minimum(start, end) - reach[:, None]
        high = np.maximum(start, end) + reach[:, None]
        found = [
            np.array(sorted(self._tree.intersection(box)), dtype=np.int64)
            for box in np.concatenate([low, high], axis=1)
            if self._tree is not None
        ]
        if not found:
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        return np.repeat(np.arange(len(found)), [len(rows) for rows in found]), np.concatenate(
            found
        )
