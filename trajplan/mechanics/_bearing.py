"""Bearing of a head or a washer on bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics._range import Range, not_negative

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats
    from trajplan.mechanics._bone_class import Strength

__all__ = ["Bearing", "bearing"]


@dataclass(frozen=True, slots=True, eq=False)
class Bearing:
    """How ``n`` heads or washers press on bone."""

    area: Floats  # (n,) mm², of the footprint that bears
    pressure: Range  # MPa
    use: Range  # pressure over the bone's compressive strength; above 1 it gives way


def bearing(force: Range, area: ArrayLike, strength: Strength | None) -> Bearing:
    """Pressure under heads or washers against the strength of the bone.

    Parameters
    ----------
    force : Range
        Preload of ``n`` screws, N.
    area : (n,) float array, mm²
        Footprint, as from `trajplan.trajectory.head_footprint`; NaN: unknown, or nothing bears.
    strength : Strength or None
        Compressive strength of the bone under the head; None: no source gives one.

    Returns
    -------
    Bearing

    Raises
    ------
    DegenerateError
        If a force is negative.
    """
    area = not_negative("area", area)
    bounds = (force.low, force.estimate, force.high)
    low, estimate, high = (not_negative("force", f) / area for f in bounds)
    weak, usual, strong = (
        (np.nan,) * 3 if strength is None else (strength.low, strength.estimate, strength.high)
    )
    use = Range(low / strong, estimate / usual, high / weak)
    return Bearing(area=area, pressure=Range(low, estimate, high), use=use)
