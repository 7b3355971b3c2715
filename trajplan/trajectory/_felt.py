"""A gliding hole as hands drill it: until the near fragment is through, and a little further."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.trajectory._corridors import Corridors
    from trajplan.trajectory._crossing import Crossing

__all__ = ["felt_hole"]

#: mm that a drill goes into the far fragment before hands stop it, where that bone lies in the
#: way of its plunge: bone resists as air does not (assumption).
LANDING = 1.0


def felt_hole(
    corridors: Corridors, crossing: Crossing, marrow: tuple[Floats, Floats], plunge: Floats
) -> Floats:
    """Where a gliding hole ends that is drilled by feel along each axis.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes as cast.
    crossing : Crossing
        Where they cross the fracture.
    marrow : pair of (n, k + 1) float arrays, mm
        Stretch of each line that is assumed to be marrow; NaN where none is.
    plunge : (n,) float array, mm
        How far the drill goes on in the open once the near fragment is through.

    Returns
    -------
    (n,) float array, mm
        From the entry; NaN where an axis does not cross the fracture in bone.

    Notes
    -----
    Hands feel the whole width of the drill come through: the hole ends past the last bone of
    the near fragment on the ring, be that at the fracture or where the canal begins. From
    there the drill plunges, until bone of the far fragment stops it.
    """
    line, start, end = _bone(corridors, marrow)
    axis, at = line // (corridors.ring + 1), crossing.lines.ravel()[line]
    near = (start < at) & (end > 0.0)
    last = np.full(len(corridors.hit), -np.inf)
    np.maximum.at(last, axis[near], np.minimum(end, at)[near])
    far = end > at
    first = np.full(len(last), np.inf)
    np.minimum.at(first, axis[far], np.maximum(start, at)[far])
    reach = np.fmin(last + plunge, np.fmax(last, first) + LANDING)
    return np.where(corridors.hit & crossing.inside & np.isfinite(last), reach, np.nan)


def _bone(corridors: Corridors, marrow: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """Row of the line, start and end of every stretch of bone, an assumed canal left out."""
    solid = corridors.solid
    line = rows_of(solid.offsets)
    low, high = (edge.ravel()[line] for edge in marrow)
    hollow = low < high  # never where nothing is assumed: NaN
    before = np.where(hollow, np.minimum(solid.end, low), solid.end)
    after = np.where(hollow, np.maximum(solid.start, high), np.inf)
    start, end = np.r_[solid.start, after], np.r_[before, solid.end]
    real = start < end
    return np.r_[line, line][real], start[real], end[real]
