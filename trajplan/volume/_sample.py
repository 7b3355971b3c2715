"""Values of a CT between its voxels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.spatial import cKDTree

from trajplan.arrays import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.volume._grid import Grid
    from trajplan.volume._image import Ct

__all__ = ["LEAST_HU", "METAL_HU", "Region", "crop"]

#: HU; what lies below was not measured: air is -1000, and scanners fill with -1100 and less what
#: they did not look at (-2000, -2048, -3024, -3995 in files of several makers).
LEAST_HU = -1050.0
#: HU from which on a voxel is metal; 12-bit scanners cut off at 3071.
METAL_HU = 3000.0
#: A volume that was cut off lower: so many voxels at one greatest value, above what bone reaches.
CUT_OFF, CUT_OFF_HU = 20, 2400.0


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """A part of a CT, ready for sampling."""

    values: NDArray[Any]  # [k, j, i] HU, float32; NaN: not measured
    grid: Grid  # of the whole CT
    start: Ints  # (3,) i, j, k of the first voxel
    metal: Vec3s  # (m, 3) LPS mm, voxels of metal in the part and round it
    tree: cKDTree | None  # of them; None: there are none

    def at(self, points: Vec3s) -> Floats:
        """HU at places, linear between voxels.

        Parameters
        ----------
        points : (n, 3) float array, LPS mm
            Any places.

        Returns
        -------
        (n,) float array
            NaN outside, and where one of the eight voxels round a place was not measured.
        """
        from scipy import ndimage

        index = self.grid.index(points) - self.start
        found: Floats = ndimage.map_coordinates(
            self.values,
            index[:, ::-1].T,
            output=np.float64,
            order=1,
            mode="constant",
            cval=np.nan,
            prefilter=False,
        )
        return found

    def near_metal(self, points: Vec3s, reach: float) -> Bools:
        """Whether metal lies near places.

        Parameters
        ----------
        points : (n, 3) float array, LPS mm
            Places.
        reach : float, mm
            How near.

        Returns
        -------
        (n,) bool array
        """
        if self.tree is None:
            return np.zeros(len(points), dtype=np.bool_)
        near: Bools = np.zeros(len(points), dtype=np.bool_)
        there = np.isfinite(points).all(axis=1)
        away, _ = self.tree.query(points[there], distance_upper_bound=reach)
        near[there] = np.isfinite(away)
        return near


def crop(ct: Ct, points: Vec3s, margin: float, beyond: float = 0.0) -> Region:
    """Cut out what lies round some points.

    Parameters
    ----------
    ct : Ct
        The CT.
    points : (n, 3) float array, LPS mm
        Points.
    margin : float, mm
        How much further.
    beyond : float, mm
        How much further than that metal is looked for.

    Returns
    -------
    Region
        At least two voxels along each edge, where the CT has them.
    """
    low, stop = _box(ct, points, margin)
    part = ct.values[low[2] : stop[2], low[1] : stop[1], low[0] : stop[0]].astype(np.float32)
    part[part < LEAST_HU] = np.nan
    freeze(part)
    first, last = _box(ct, points, margin + beyond)
    wide = ct.values[first[2] : last[2], first[1] : last[1], first[0] : last[0]]
    kji = np.argwhere(wide >= _metal_level(ct))
    metal = ct.grid.points(kji[:, ::-1] + first)
    return Region(part, ct.grid, low, metal, cKDTree(metal) if len(metal) else None)


def _box(ct: Ct, points: Vec3s, margin: float) -> tuple[Ints, Ints]:
    index = ct.grid.index(points)
    inverse = np.linalg.inv(ct.grid.matrix[:3, :3])
    reach = margin * np.linalg.norm(inverse, axis=1)  # of a ball, along each index
    size = np.array(ct.grid.size)
    low = np.clip(np.floor(index.min(axis=0) - reach).astype(int), 0, np.maximum(size - 2, 0))
    high = np.clip(np.ceil(index.max(axis=0) + reach).astype(int) + 1, low + 2, size)
    return low, high


def _metal_level(ct: Ct) -> float:
    """HU from which on a voxel counts as metal."""
    most = max(float(np.nanmax(part)) for part in ct.values)
    if CUT_OFF_HU < most < METAL_HU:
        count = sum(int((part == most).sum()) for part in ct.values)
        if count >= CUT_OFF:
            return most
    return METAL_HU
