"""Broken surfaces turned to the viewer, coloured by the gap on them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trajplan.geometry import frames
from trajplan.show._picture.labels import fitted
from trajplan.show._reduction.gap import BONE, gap_table, shown
from trajplan.show._reduction.probe import gap_map

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.reduction import Fragment, Pose

__all__ = ["BESIDE", "FaceOn", "add_gaps", "face_on", "triangles"]

#: mm of bone that is drawn beside a broken surface, and between one surface and the next.
BESIDE = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class FaceOn:
    """A fragment's broken surface, turned to the viewer."""

    name: str
    corners: Floats  # (f, 3, 3) mm, what lies further than `BESIDE` from it cut off
    gaps: Floats  # (f,) mm; NaN beside the broken surface


def face_on(
    fragments: Sequence[Fragment], poses: Sequence[Pose], toward: Vec3, up: Vec3, onward: Vec3
) -> tuple[FaceOn, ...]:
    """Turn each fragment's broken surface to the viewer, one after the other.

    Parameters
    ----------
    fragments : sequence of Fragment
        As they lie.
    poses : sequence of Pose
        One for each.
    toward, up : (3,) float array, unit
        To the viewer, and upwards in the picture.
    onward : (3,) float array, unit
        Where the next one lies, square to `toward`.

    Returns
    -------
    tuple of FaceOn
        Of fragments that face another.
    """
    told, place = [], 0.0
    gaps = gap_map(fragments, poses)
    for part, pose, gap in zip(fragments, poses, gaps, strict=True):
        corners, looks = pose.points(part.vertices)[part.faces], np.isfinite(gap)
        if not looks.any():
            continue
        broken = corners[looks]
        normal = np.cross(broken[:, 1] - broken[:, 0], broken[:, 2] - broken[:, 0]).sum(axis=0)
        normal /= max(float(np.linalg.norm(normal)), 1e-9)
        points = broken.reshape(-1, 3)
        near = (corners >= points.min(axis=0) - BESIDE) & (corners <= points.max(axis=0) + BESIDE)
        own = near.all(axis=(1, 2))
        seen = (corners[own] - points.mean(axis=0)) @ _frame(normal, up).T @ _frame(toward, up)
        along = seen @ onward
        seen = seen + (place - float(along.min())) * onward
        place += float(np.ptp(along)) + BESIDE
        told.append(FaceOn(fitted(Path(part.name).stem, 18), seen, gap[own]))
    return tuple(told)


def _frame(toward: Vec3, up: Vec3) -> Floats:
    """Rows: to the right, up and towards the viewer, as upright as that direction allows."""
    upright = up - (up @ toward) * toward
    if np.linalg.norm(upright) < 0.1:  # the surface looks along the bone: any side will do
        upright = frames(toward[None])[0, 0]
    upright = upright / np.linalg.norm(upright)
    return np.stack([np.cross(upright, toward), upright, toward])


def add_gaps(plotter: pv.Plotter, corners: Floats, gaps: Floats) -> None:
    """Draw a fragment, its broken surface in the colours of the gap.

    Parameters
    ----------
    plotter : pyvista.Plotter
    corners : (f, 3, 3) float array, mm
    gaps : (f,) float array, mm
        NaN beside the broken surface.
    """
    looks = np.isfinite(gaps)
    if not looks.all():
        plotter.add_mesh(triangles(corners[~looks]), color=BONE)
    if looks.any():
        broken = triangles(corners[looks])
        broken.cell_data["gap"] = shown(gaps[looks])
        plotter.add_mesh(
            broken, scalars="gap", cmap=gap_table(), show_scalar_bar=False, lighting=False
        )


def triangles(corners: Floats) -> pv.PolyData:
    """A mesh of lone triangles, (f, 3, 3) mm."""
    import pyvista as pv

    points: Vec3s = corners.reshape(-1, 3)
    return pv.PolyData.from_regular_faces(points, np.arange(len(points)).reshape(-1, 3))
