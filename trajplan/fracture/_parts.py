"""Which triangles of a fracture surface share a plane."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import DegenerateError
from trajplan.fracture._cells import cells_of
from trajplan.fracture._division import best_division, merge_order
from trajplan.fracture._fits import FLAT_LARGEST, FLAT_RMS, turn_of
from trajplan.geometry import fit_plane

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone import Surface
    from trajplan.geometry import FittedPlane

__all__ = ["SAID_SHARE", "Sheet", "divide", "left_out"]

#: Share of a surface that may lie off its plane, or outside the bone, before it is said, and
#: before the surface is divided for it.
SAID_SHARE = 0.05
#: Degrees by which the normal may turn across a zone (assumption: at either end it is then
#: off by the 20 degrees of tilt that textbooks allow a lag screw).
ZONE_TURN = 40.0
#: Dividing must bring the mean departure from the planes down by this factor: what is
#: merely rough stays one zone (assumption).
WORTH = 1.25


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """The triangles of a patch, unused vertices dropped."""

    points: Vec3s  # (v, 3) mm
    faces: Ints  # (f, 3)
    area: Floats  # (f,) mm²
    patch: Surface

    @classmethod
    def of(cls, patch: Surface) -> Sheet:
        """Take the triangles of a patch.

        Parameters
        ----------
        patch : Surface
            A fracture surface.

        Returns
        -------
        Sheet
        """
        used, faces = np.unique(patch.faces, return_inverse=True)
        points, faces = patch.vertices[used], faces.reshape(-1, 3)
        a, b, c = points[faces].transpose(1, 0, 2)
        return cls(points, faces, 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1), patch)

    def part(self, rows: Ints) -> Sheet:
        """Take some of the faces.

        Parameters
        ----------
        rows : (n,) int array
            Rows of faces.

        Returns
        -------
        Sheet
        """
        used, faces = np.unique(self.faces[rows], return_inverse=True)
        return Sheet(self.points[used], faces.reshape(-1, 3), self.area[rows], self.patch)

    def weights(self) -> Floats:
        """A third of the area of the faces round each vertex.

        Returns
        -------
        (v,) float array, mm²
        """
        shares = np.repeat(self.area / 3.0, 3)
        weights: Floats = np.zeros(len(self.points))
        np.add.at(weights, self.faces.ravel(), shares)
        return weights


def divide(sheet: Sheet, most: int) -> tuple[list[Ints], bool]:
    """Divide a surface into the least number of parts that planes describe.

    Parameters
    ----------
    sheet : Sheet
        The surface.
    most : int
        Parts at most.

    Returns
    -------
    parts : list of int arrays
        Rows of faces of each part, in order along the surface.
    met : bool
        Whether parts enough were allowed.

    Raises
    ------
    DegenerateError
        If the whole surface has no area, or lies on one line.
    """
    whole = [np.arange(len(sheet.faces))]
    if most == 1 or _good(sheet):
        return whole, True
    cells = cells_of(sheet.points - sheet.points.mean(axis=0), sheet.faces)
    order = merge_order(cells)
    found: list[tuple[float, list[Ints]]] = []
    met = False
    while not met and len(found) < min(most, len(cells.moments)):
        count = len(found) + 1
        part, rms = best_division(cells, order, count)
        parts = [np.flatnonzero(part[cells.of_face] == number) for number in range(count)]
        met = count > 1 and _all_good(sheet, parts)
        found.append((rms, parts))
    least = WORTH * found[-1][0]
    if found[0][0] <= least:
        return whole, True
    if met:
        return _along(sheet, found[-1][1]), True
    near = (parts for rms, parts in found if rms <= least and _are_planes(sheet, parts))
    return _along(sheet, next(near, whole)), False


def _good(sheet: Sheet) -> bool:
    """Whether one plane describes a surface."""
    weights = sheet.weights()
    fitted = fit_plane(sheet.points, weights)
    return (
        fitted.rms <= FLAT_RMS
        and fitted.largest <= FLAT_LARGEST
        and left_out(fitted, weights) <= SAID_SHARE
        and turn_of(fitted, sheet.points, weights) <= ZONE_TURN
    )


def _all_good(sheet: Sheet, parts: list[Ints]) -> bool:
    try:
        return all(_good(sheet.part(rows)) for rows in parts)
    except DegenerateError:  # a part that is but a line
        return False


def _are_planes(sheet: Sheet, parts: list[Ints]) -> bool:
    """Whether no part is but a line."""
    try:
        for part in map(sheet.part, parts):
            fit_plane(part.points, part.weights())
    except DegenerateError:
        return False
    return True


def left_out(fitted: FittedPlane, weights: Floats) -> float:
    """Share of a surface that did not count for its plane.

    Parameters
    ----------
    fitted : FittedPlane
        The plane.
    weights : (n,) float array
        Area round each vertex.

    Returns
    -------
    float
    """
    # Heights of rounding size are no outliers that a surface should be divided for.
    off = ~fitted.inliers & (np.abs(fitted.heights) > FLAT_RMS)
    return float(weights[off].sum() / weights.sum())


def _along(sheet: Sheet, parts: list[Ints]) -> list[Ints]:
    """Zones in the order in which they lie along the surface."""
    middles = sheet.points[sheet.faces].mean(axis=1)
    centred = middles - np.average(middles, axis=0, weights=sheet.area)
    axis = np.linalg.eigh((centred.T * sheet.area) @ centred)[1][:, 2]
    height = centred @ (axis * np.copysign(1.0, axis[np.abs(axis).argmax()]))
    return sorted(parts, key=lambda rows: float(np.average(height[rows], weights=sheet.area[rows])))
