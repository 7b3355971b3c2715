"""Forces and moments on the near fragment, and how a screw's force splits at the fracture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points, as_vector
from trajplan.errors import DegenerateError, ShapeError
from trajplan.mechanics._range import not_negative

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Vec3, Vec3s

__all__ = ["Load", "clamp_forces", "clamp_load", "shaft_load", "squeeze_and_shear"]

#: Below this length of a bending axis off the shaft there is no bending left.
MIN_BEND = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Load:
    """A force and a moment on the near fragment, the one behind the fracture normal."""

    force: Vec3  # (3,) N
    moment: Vec3  # (3,) N·mm, about `point`
    point: Vec3  # (3,) mm

    def moment_about(self, point: Vec3) -> Vec3:
        """Moment about another point.

        Parameters
        ----------
        point : (3,) float array, mm
            The point.

        Returns
        -------
        (3,) float array, N·mm
        """
        moved: Vec3 = self.moment + np.cross(self.point - point, self.force)
        return moved

    def plus(self, other: Load, factor: float = 1.0) -> Load:
        """Both loads at once.

        Parameters
        ----------
        other : Load
            The load to add.
        factor : float
            Factor on the other load.

        Returns
        -------
        Load
        """
        force = self.force + factor * other.force
        moment = self.moment + factor * other.moment_about(self.point)
        return Load(force, moment, self.point)


def clamp_forces(force: ArrayLike, direction: ArrayLike, normal: ArrayLike) -> Vec3s:
    """Forces with which lag screws press the near fragment on the far one.

    Parameters
    ----------
    force : (n,) float array, N
        Preload of each screw; NaN is unknown.
    direction : (n, 3) float array
        From head to tip.
    normal : (3,) or (n, 3) float array
        Fracture normal, from the near fragment to the far one; one for all, or that where
        each screw crosses a surface that is curved.

    Returns
    -------
    (n, 3) float array, N
        On the fragment behind the normal: a screw whose head bears on the other one pulls
        it by its thread, so its force is turned over.

    Raises
    ------
    ShapeError, DegenerateError
        If the arrays do not fit, a force is negative, or a direction is none.
    """
    force, direction = not_negative("force", force), as_directions(direction)
    if force.shape != direction.shape[:1]:
        raise ShapeError("force", f"({len(direction)},)", force.shape)
    facing = np.einsum("ij,ij->i", direction, _one_each(normal, len(direction)))
    side = np.where(facing < 0.0, -1.0, 1.0)
    pressed: Vec3s = (force * side)[:, None] * direction
    return pressed


def _one_each(normal: ArrayLike, count: int) -> Vec3s:
    unit = as_directions(normal, "normal")
    if len(unit) not in (1, count):
        raise ShapeError("normal", f"(3,) or ({count}, 3)", unit.shape)
    return np.broadcast_to(unit, (count, 3))


def clamp_load(
    force: ArrayLike, direction: ArrayLike, points: ArrayLike, normal: ArrayLike
) -> Load:
    """Sum of the forces of lag screws on the near fragment.

    Parameters
    ----------
    force, direction, normal : float arrays
        As in `clamp_forces`.
    points : (n, 3) float array, mm
        A point on each screw's axis, such as its crossing with the fracture.

    Returns
    -------
    Load
        About the first point.

    Raises
    ------
    ShapeError, DegenerateError
        As `clamp_forces`, and if there is no screw.
    """
    points, forces = as_points(points), clamp_forces(force, direction, normal)
    if points.shape != forces.shape:
        raise ShapeError("points", f"({len(forces)}, 3)", points.shape)
    if len(points) == 0:
        raise DegenerateError("there is no screw, so there is no load")
    moment = np.cross(points - points[0], forces).sum(axis=0)
    return Load(forces.sum(axis=0), moment, points[0])


def squeeze_and_shear(
    force: ArrayLike, direction: ArrayLike, normal: ArrayLike
) -> tuple[Floats, Vec3s]:
    """Split the force of each screw along and across the fracture normal.

    Parameters
    ----------
    force, direction, normal : float arrays
        As in `clamp_forces`.

    Returns
    -------
    squeeze : (n,) float array, N
        Along the normal, 0 or more.
    shear : (n, 3) float array, N
        In the plane, on the near fragment.

    Raises
    ------
    ShapeError, DegenerateError
        As `clamp_forces`.
    """
    forces = clamp_forces(force, direction, normal)
    unit = _one_each(normal, len(forces))
    squeeze: Floats = np.einsum("ij,ij->i", forces, unit)
    return squeeze, forces - squeeze[:, None] * unit


def shaft_load(
    axis: ArrayLike,
    normal: ArrayLike,
    point: ArrayLike,
    *,
    axial: float = 0.0,
    bending: float = 0.0,
    bending_axis: ArrayLike | None = None,
    torsion: float = 0.0,
) -> Load:
    """Load of a shaft on the near fragment.

    Parameters
    ----------
    axis : (3,) float array
        Axis of the shaft, either way round.
    normal : (3,) float array
        Fracture normal, from the near fragment to the far one.
    point : (3,) float array, mm
        Point of the axis at the fracture.
    axial : float, N
        Along the axis: above zero presses the fragments together.
    bending : float, N·mm
        Bending moment.
    bending_axis : (3,) float array, optional
        Axis that the moment turns about; its part along the shaft is dropped.
    torsion : float, N·mm
        Moment about the axis.

    Returns
    -------
    Load

    Raises
    ------
    ShapeError, DegenerateError
        If a vector has no direction, a number is not finite, or bending has no axis.
    """
    along = as_directions(as_vector(axis, "axis"), "axis")[0]
    across = as_directions(as_vector(normal, "normal"), "normal")[0]
    along = -along if along @ across < 0.0 else along
    if not np.isfinite([axial, bending, torsion]).all():
        raise DegenerateError("axial force, bending and torsion must be finite")
    moment = torsion * along
    if bending != 0.0:
        moment = moment + bending * _bending_direction(along, bending_axis)
    return Load(axial * along, moment, as_vector(point, "point"))


def _bending_direction(along: Vec3, bending_axis: ArrayLike | None) -> Vec3:
    if bending_axis is None:
        raise DegenerateError("a bending moment needs the axis that it turns about")
    turn = as_vector(bending_axis, "bending axis")
    turn = turn - (turn @ along) * along
    if np.linalg.norm(turn) < MIN_BEND:
        raise DegenerateError("the bending axis lies along the shaft")
    unit: Vec3 = as_directions(turn, "bending axis")[0]
    return unit
