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

__all__ = ["Bearing", "bearing", "seat_limit"]


@dataclass(frozen=True, slots=True, eq=False)
class Bearing:
    """How ``n`` heads or washers press on bone."""

    area: Floats  # (n,) mm², of the footprint that bears
    pressure: Range  # MPa
    use: Range  # pressure over the bone's compressive strength; above 1 it gives way


def seat_limit(area: ArrayLike, strength: Strength | None) -> Range:
    """Force at which the bone under heads or washers gives way.

    Parameters
    ----------
    area : (n,) float array, mm²
        Footprint, as from `trajplan.trajectory.head_footprint`; NaN: unknown, or nothing bears.
    strength : Strength or None
        Compressive strength of the bone under the head; None: no source gives one.

    Returns
    -------
    Range
        N.

    Raises
    ------
    DegenerateError
        If an area is negative.
    """
    area = not_negative("area", area)
    if strength is None:
        return Range(*(np.full_like(area, np.nan) for _ in range(3)))
    return Range(area * strength.low, area * strength.estimate, area * strength.high)


def bearing(force: Range, area: ArrayLike, limit: Range) -> Bearing:
    """Pressure under heads or washers against what the bone there bears.

    Parameters
    ----------
    force : Range
        Force with which ``n`` screws pull their heads down, N.
    area : (n,) float array, mm²
        Footprint, as for `seat_limit`.
    limit : Range
        Force at which the bone gives way, N, as from `seat_limit`.

    Returns
    -------
    Bearing

    Raises
    ------
    DegenerateError
        If a force or an area is negative.
    """
    area = not_negative("area", area)
    low, estimate, high = (
        not_negative("force", bound) for bound in (force.low, force.estimate, force.high)
    )
    return Bearing(
        area=area,
        pressure=Range(low / area, estimate / area, high / area),
        use=Range(low / limit.high, estimate / limit.estimate, high / limit.low),
    )
