"""Whether squeezed fragments slide along the fracture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, as_points, as_vector
from trajplan.errors import ShapeError
from trajplan.mechanics._friction_limit import friction_limit
from trajplan.mechanics._load import clamp_load, squeeze_and_shear
from trajplan.mechanics._range import BONE_FRICTION, not_negative, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Vec3s
    from trajplan.mechanics._range import Friction

__all__ = ["SlipReserve", "critical_tilt", "slip_reserve"]


@dataclass(frozen=True, slots=True, eq=False)
class SlipReserve:
    """Friction over the shear that it has to bear: below 1 the fragments slide."""

    low: float
    estimate: float
    high: float
    squeeze: Floats  # (n,) N, of each screw along the normal
    shear: Vec3s  # (n, 3) N, of each screw across it


def critical_tilt(friction: ArrayLike) -> Floats:
    """Tilt off the fracture normal at which a single lag screw makes the fragments slide.

    Parameters
    ----------
    friction : float array
        Coefficient of friction of the fracture surfaces.

    Returns
    -------
    float array, degrees

    Raises
    ------
    DegenerateError
        If a coefficient is not above zero.

    Notes
    -----
    ``arctan μ`` (Coulomb; common practice).
    """
    tilt: Floats = np.degrees(np.arctan(positive("friction", friction)))
    return tilt


def slip_reserve(
    force: ArrayLike,
    direction: ArrayLike,
    points: ArrayLike,
    normal: ArrayLike,
    *,
    friction: Friction = BONE_FRICTION,
    bearing_points: ArrayLike | None = None,
    bearing_forces: ArrayLike | None = None,
) -> SlipReserve:
    """Reserve against sliding under the screws' own squeeze.

    Parameters
    ----------
    force : (n,) float array, N
        Preload of each screw; NaN is unknown.
    direction : (n, 3) float array
        From head to tip.
    points : (n, 3) float array, mm
        Where each screw crosses the fracture.
    normal : (3,) float array
        Fracture normal, either way round.
    friction : Friction
        Of bone on bone.
    bearing_points, bearing_forces : (p, 3) and (p,) float arrays, mm and N, optional
        Where the fragments press on each other, as pressure times area of a contact
        result; by default each screw presses at its own crossing.

    Returns
    -------
    SlipReserve
        Infinite where the shears cancel, NaN where a force is unknown. Shears that do not
        act through one point also twist the fragments: that is in it.

    Raises
    ------
    ShapeError, DegenerateError
        If the arrays do not fit, or a force is negative.
    """
    squeeze, shear = squeeze_and_shear(force, direction, normal)
    load = clamp_load(force, direction, points, normal)
    unit = as_directions(as_vector(normal, "normal"), "normal")[0]
    where = as_points(points if bearing_points is None else bearing_points, "bearing_points")
    pressing = not_negative("bearing_forces", squeeze if bearing_forces is None else bearing_forces)
    if pressing.shape != (len(where),):
        raise ShapeError("bearing_forces", f"({len(where)},)", pressing.shape)
    limit = friction_limit(where, pressing, unit, load)
    return SlipReserve(
        friction.low * limit, friction.estimate * limit, friction.high * limit, squeeze, shear
    )
