"""Bearing of a head or a washer on bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import DegenerateError
from trajplan.mechanics._range import Range, not_negative, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Floats
    from trajplan.mechanics._bone_class import Strength

__all__ = ["Bearing", "bearing", "footprint"]


@dataclass(frozen=True, slots=True, eq=False)
class Bearing:
    """How ``n`` heads or washers press on bone."""

    area: Floats  # (n,) mm², of the footprint that bears
    pressure: Range  # MPa
    use: Range  # pressure over the bone's compressive strength; above 1 it gives way

    @property
    def washer_due(self) -> Bools:
        """Whether the head is expected to sink in without a (wider) washer, (n,)."""
        return self.use.estimate > 1.0

    @property
    def washer_doubtful(self) -> Bools:
        """Whether it may sink in at the far end of the range only, (n,)."""
        return (self.use.high > 1.0) & ~self.washer_due


def footprint(outer: ArrayLike, hole: ArrayLike, share: ArrayLike = 1.0) -> Floats:
    """Area that a head or a washer bears on: a ring, or a share of it.

    Parameters
    ----------
    outer : (n,) float array, mm
        Diameter of the head or washer.
    hole : (n,) float array, mm
        Diameter of the hole in the bone under it, or of the washer if that is wider.
    share : (n,) float array, 0 to 1
        Share of the ring that touches bone, as the seat finds it.

    Returns
    -------
    (n,) float array, mm²
        NaN where the share is unknown or nothing bears.

    Raises
    ------
    DegenerateError
        If a diameter is not above zero, the hole not below the outer one, or the share
        not between 0 and 1.
    """
    outer, hole = positive("outer diameter", outer), positive("hole", hole)
    share = not_negative("share", share)
    if (hole >= outer).any():
        raise DegenerateError("hole must be below the outer diameter")
    if (share > 1.0).any():
        raise DegenerateError(f"share must not be above 1, found {np.nanmax(share):g}")
    area: Floats = np.pi / 4.0 * (outer**2 - hole**2) * np.where(share > 0.0, share, np.nan)
    return area


def bearing(force: Range, area: ArrayLike, strength: Strength | None) -> Bearing:
    """Pressure under heads or washers against the strength of the bone.

    Parameters
    ----------
    force : Range
        Preload of ``n`` screws, N.
    area : (n,) float array, mm²
        As from `footprint`.
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
