"""Whether a label map, or a mesh, lies where the bone of a CT is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import VolumeError
from trajplan.volume._sample import crop

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3s
    from trajplan.volume._grid import Grid
    from trajplan.volume._image import Ct, LabelMap
    from trajplan.volume._sample import Region

__all__ = ["check_surface", "on_the_grid", "share_on_bone"]

#: Voxels by which the middles of two grids may differ along an edge and still be the same.
SAME = 0.01
#: Share of a label that may lie outside the CT.
OUTSIDE = 0.001
#: Places of a surface that are looked at.
FEET = 3000
#: mm inside a surface in which its bone is looked for, and outside in which it is compared: past
#: the blur of a clinical CT, nearer than the next bone in most joints.
INSIDE, BEYOND = np.array([0.5, 1.0, 1.5, 2.0, 2.5]), np.array([1.5, 2.0, 2.5, 3.0])
#: HU by which bone is denser than what lies round it, where its wall is thin and blurred.
DENSER = 80.0
#: Share of the places at which it must be so, and without a caution. Measured: 0.97 to 0.98 on four
#: bones of a chest CT, 1.00 on shafts made voxels; moved by 3 mm 0.75 to 0.97, by 5 mm and more
#: 0.42 to 0.76. So what is moved by 2 mm may pass: look at the picture.
LIES, LIES_WELL = 0.8, 0.92


def on_the_grid(labels: LabelMap, ct: Ct) -> tuple[str, ...]:
    """See that a label map belongs to a CT.

    Parameters
    ----------
    labels : LabelMap
        The map; it keeps its own grid.
    ct : Ct
        The CT.

    Returns
    -------
    tuple of str
        What to say where the two grids differ.

    Raises
    ------
    VolumeError
        If they are in two frames of reference, or the map reaches out of the CT.

    Notes
    -----
    Labels are meshed on their own grid, so nothing is resampled: a map of another grid lies in the
    same frame, and whether it lies on the bone `check_surface` tells.
    """
    if labels.source.frame and ct.source.frame and labels.source.frame != ct.source.frame:
        raise VolumeError(
            "the label map and the CT name two different frames of reference",
            remedy="segment this CT, or name the CT that was segmented",
            file=labels.source.name,
        )
    if _same_grid(labels.grid, ct.grid):
        return ()
    kji = np.argwhere(labels.values)
    index = ct.grid.index(labels.grid.points(kji[:, ::-1]))
    off = ((index < -0.5) | (index > np.array(ct.grid.size) - 0.5)).any(axis=1).mean()
    if off > OUTSIDE:
        raise VolumeError(
            f"{off:.1%} of the labelled voxels lie outside the CT",
            remedy="name the CT that was segmented",
            file=labels.source.name,
        )
    return ("The label map has another grid than the CT; both were placed by their own headers.",)


def _same_grid(one: Grid, other: Grid) -> bool:
    if one.size != other.size:
        return False
    apart = np.abs(other.index(one.corners()) - other.index(other.corners()))
    return bool(apart.max() <= SAME)


def share_on_bone(ct: Ct, middles: Vec3s, normals: Vec3s) -> float:
    """How much of a surface has something denser inside than outside.

    Parameters
    ----------
    ct : Ct
        The CT.
    middles : (n, 3) float array, LPS mm
        Places of the surface.
    normals : (n, 3) float array
        Outward unit normals.

    Returns
    -------
    float
        From 0 to 1; NaN where none of it lies in what was measured.
    """
    step = max(len(middles) // FEET, 1)
    at, out = middles[::step], normals[::step]
    region = crop(ct, at, float(BEYOND.max()) + 1.0)
    inside = _lines(region, at, out, -INSIDE)
    beyond = _lines(region, at, out, BEYOND)
    seen = np.isfinite(inside).any(axis=1) & np.isfinite(beyond).any(axis=1)
    if not seen.any():
        return np.nan
    rise = np.nanmax(inside[seen], axis=1) - np.nanmedian(beyond[seen], axis=1)
    return float((rise > DENSER).mean())


def check_surface(ct: Ct, name: str, middles: Vec3s, normals: Vec3s) -> tuple[str, ...]:
    """See that a surface lies on the bone of a CT.

    Parameters
    ----------
    ct : Ct
        The CT.
    name : str
        What the surface is called.
    middles : (n, 3) float array, LPS mm
        Places of the surface.
    normals : (n, 3) float array
        Outward unit normals.

    Returns
    -------
    tuple of str
        What to say where it lies less well than it should.

    Raises
    ------
    VolumeError
        If it lies elsewhere.
    """
    share = share_on_bone(ct, middles, normals)
    if np.isnan(share):
        raise VolumeError(
            f"{name} lies outside the CT",
            remedy="name the CT that it was made from, and state the unit of the mesh",
            file=ct.source.name,
        )
    if share < LIES:
        raise VolumeError(
            f"{name} does not lie on bone of the CT: only {share:.0%} of its surface has something "
            "denser inside than outside",
            remedy="name the CT that it was made from, and look whether one of them was moved or "
            "mirrored",
            file=ct.source.name,
        )
    if share < LIES_WELL:
        said = f"only {share:.0%} of its surface has something denser inside than outside"
        return (f"Look whether {name} sits on its CT: {said}.",)
    return ()


def _lines(region: Region, at: Vec3s, out: Vec3s, depths: Floats) -> Floats:
    points = at[:, None, :] + out[:, None, :] * depths[None, :, None]
    return region.at(points.reshape(-1, 3)).reshape(len(at), len(depths))
