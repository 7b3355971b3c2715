"""Slices as a stack: every slice in its place, none missing, none twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import VolumeError
from trajplan.volume._grid import SQUARE

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.arrays import Floats, Ints, Vec3, Vec3s

__all__ = ["stacked", "tilt_cautions"]

#: Steps between slices may differ by this share of a step, and by the second, mm: what files
#: round positions to.
STEP_SHARE, STEP_LEAST = 0.01, 0.01
#: mm by which a slice may lie beside the straight line of the stack.
BESIDE = 0.1
#: Part of a whole number of steps that still counts as that number: a slice is missing.
NEARLY = 0.05
#: Degrees above which a tilt that the scanner states, and the places do not show, is told.
TILT_SEEN = 1.0


def stacked(
    positions: Vec3s, rows: Vec3, columns: Vec3, spacing: tuple[float, float], folder: Path
) -> tuple[Ints, Floats]:
    """Put slices in order and find the matrix of their stack.

    Parameters
    ----------
    positions : (n, 3) float array, LPS mm
        Centre of the first voxel of each slice.
    rows, columns : (3,) float arrays
        Unit vectors along a row and down a column.
    spacing : tuple of float
        mm between voxels along a row, and down a column.
    folder : Path
        For the error.

    Returns
    -------
    order : (n,) int array
        Slices by their place along the normal.
    matrix : (4, 4) float array
        From (i, j, k, 1) to LPS, mm. Where the gantry was tilted it is oblique, as the slices are.

    Raises
    ------
    VolumeError
        If the slices do not make one even stack.
    """
    normal = _normal(rows, columns, folder)
    if not np.isfinite(positions).all() or not 0.0 < min(spacing) <= max(spacing) < np.inf:
        raise VolumeError(
            "the place or the pixel size of a slice is no number that can be",
            remedy="export the series again from the scanner's archive",
            file=folder,
        )
    if len(positions) < 2:
        raise VolumeError(
            "there is one slice alone, and a volume has two or more",
            remedy="export the whole series",
            file=folder,
        )
    depth = positions @ normal
    order = np.argsort(depth, kind="stable")
    _check_steps(depth[order], folder)
    placed = positions[order]
    step = (placed[-1] - placed[0]) / (len(placed) - 1)
    line = placed[0] + np.arange(len(placed))[:, None] * step
    off = np.linalg.norm(placed - line, axis=1)
    if off.max() > BESIDE:
        worst = int(np.argmax(off))
        raise VolumeError(
            f"slice {worst + 1} of the stack lies {off[worst]:.2f} mm beside the line of the rest",
            remedy="export the series again without joining acquisitions",
            file=folder,
        )
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = rows * spacing[0], columns * spacing[1], step
    matrix[:3, 3] = placed[0]
    return order, matrix


def tilt_cautions(matrix: Floats, stated: float | None) -> tuple[str, ...]:
    """Say whether the slices lean, and whether the scanner says so too.

    Parameters
    ----------
    matrix : (4, 4) float array
        Of the stack.
    stated : float or None
        Tilt of the gantry as the file states it, degrees.

    Returns
    -------
    tuple of str
    """
    normal, step = np.cross(matrix[:3, 0], matrix[:3, 1]), matrix[:3, 2]
    sine = np.linalg.norm(np.cross(normal, step)) / np.linalg.norm(normal) / np.linalg.norm(step)
    if sine > SQUARE:
        tilt = np.rad2deg(np.arcsin(min(float(sine), 1.0)))
        text = f"The slices lean by {tilt:.1f} degrees (a tilted gantry)"
        return (f"{text}; each lies where the scanner says it does.",)
    leaning = bool((np.abs(normal[:2]) > SQUARE * np.linalg.norm(normal)).any())
    if stated is not None and abs(stated) > TILT_SEEN and not leaning:
        text = f"The file states a gantry tilt of {stated:g} degrees, and its slices stand square"
        return (f"{text}: check a length that is known before the model is used.",)
    return ()


def _normal(rows: Vec3, columns: Vec3, folder: Path) -> Vec3:
    lengths = np.linalg.norm([rows, columns], axis=1)
    if not (np.abs(lengths - 1.0) < SQUARE).all() or abs(float(rows @ columns)) > SQUARE:
        raise VolumeError(
            "the directions of rows and columns are not square to each other",
            remedy="export the series again from the scanner's archive",
            file=folder,
        )
    normal: Vec3 = np.cross(rows, columns)
    return normal


def _check_steps(depth: Floats, folder: Path) -> None:
    """Refuse slices that lie in the same place, are missing, or are uneven."""
    steps = np.diff(depth)
    double = int(np.argmin(steps))
    if steps[double] < STEP_LEAST:
        raise VolumeError(
            f"two slices lie in the same place, {depth[double]:.2f} mm along the stack",
            remedy="take out the copy, or the other phase of the examination",
            file=folder,
        )
    usual = float(np.median(steps))
    odd = np.flatnonzero(np.abs(steps - usual) > max(STEP_SHARE * usual, STEP_LEAST))
    if not odd.size:
        return
    first = int(odd[0])
    ratio = steps[first] / usual
    between = f"between {depth[first]:.2f} and {depth[first + 1]:.2f} mm along the stack"
    if (
        odd.size <= len(steps) // 10 + 1
        and round(ratio) >= 2
        and abs(ratio - round(ratio)) < NEARLY
    ):
        count = round(ratio) - 1
        found = f"{count} slice{' is' if count == 1 else 's are'} missing {between}"
    else:
        found = (
            f"the slices are not evenly spaced: {steps[first]:.3f} mm {between}, "
            f"{usual:.3f} mm elsewhere"
        )
    raise VolumeError(found, remedy="export the whole of one series, evenly spaced", file=folder)
