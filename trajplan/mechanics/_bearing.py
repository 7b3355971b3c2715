"""Bearing of a head or a washer on bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics._range import Range, not_negative, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats
    from trajplan.mechanics._bone_class import Strength

__all__ = ["Bearing", "bearing", "seat_limit", "wall_limit"]


@dataclass(frozen=True, slots=True, eq=False)
class Bearing:
    """How ``n`` heads or washers press on bone."""

    area: Floats  # (n,) mm², of the footprint that bears
    pressure: Range  # MPa
    use: Range  # force over what the bone there bears; above 1 it gives way


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


def wall_limit(
    area: ArrayLike, hole: ArrayLike, thickness: ArrayLike, shear: float, below: ArrayLike
) -> Floats:
    """Force at which heads or washers are punched through the wall that they rest on.

    Parameters
    ----------
    area : (n,) float array, mm²
        Footprint; NaN where nothing bears.
    hole : (n,) float array, mm
        Diameter of the hole that it surrounds.
    thickness : (n,) float array, mm
        Of the wall along the axis, what a countersink leaves of it.
    shear : float, MPa
        Shear strength of the wall.
    below : (n,) float array, MPa
        Compressive strength of what bears the wall from below; 0: marrow.

    Returns
    -------
    (n,) float array, N

    Raises
    ------
    DegenerateError
        If an area, a thickness or a strength is negative.

    Notes
    -----
    A plug as wide as a ring of that footprint round the hole is sheared out of the wall: ``π d t``
    times the shear strength (punching shear; common practice), and crushes what lies below
    (assumption: both at once).
    """
    area = not_negative("area", area)
    edge = np.sqrt(positive("hole", hole) ** 2 + 4.0 * area / np.pi)
    plug: Floats = np.pi * edge * not_negative("wall", thickness) * shear
    return plug + area * not_negative("strength", below)


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
        The bounds of ``use`` hold force or bone at its unfavourable end, not both at once: that
        would be no likely case.

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
        use=Range(
            np.fmin(low / limit.estimate, estimate / limit.high),
            estimate / limit.estimate,
            np.fmax(high / limit.estimate, estimate / limit.low),
        ),
    )
