"""How a fracture lies to the shaft of the bone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture._zone import outline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.bone import ShaftAxis
    from trajplan.fracture._types import Zone

__all__ = ["FractureLength", "fracture_length", "obliquity"]


@dataclass(frozen=True, slots=True)
class FractureLength:
    """How far a fracture runs along the shaft; NaN where the bone has no shaft."""

    length: float  # mm, of the fracture line along the shaft axis
    diameter: float  # mm, of the shaft there
    middle: float  # mm, height of its middle, as `ShaftAxis` counts it

    @property
    def ratio(self) -> float:
        """Length in diameters of the shaft."""
        return self.length / self.diameter


def obliquity(zone: Zone, axis: ShaftAxis) -> float:
    """Angle between the fracture plane and the cross-section of the shaft.

    Parameters
    ----------
    zone : Zone
        A zone of the fracture.
    axis : ShaftAxis
        Axis of the shaft.

    Returns
    -------
    float, degrees
        0 for a transverse fracture, 90 for one along the shaft; NaN where the bone has no
        shaft.
    """
    if not axis.found:
        return float("nan")
    cosine = abs(float(zone.plane.normal @ axis.direction))
    return float(np.degrees(np.arccos(min(cosine, 1.0))))


def fracture_length(zones: Sequence[Zone], axis: ShaftAxis) -> FractureLength:
    """Length of a fracture along the shaft, against the shaft's diameter.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of the fracture, one or more.
    axis : ShaftAxis
        Axis of the shaft.

    Returns
    -------
    FractureLength
        The diameter is the median over the slices from one end of the fracture line to the
        other, or that of the nearest slice to a line between two.
    """
    if not axis.found:
        return FractureLength(float("nan"), float("nan"), float("nan"))
    line = np.concatenate([ring for zone in zones for ring in outline(zone)])
    height = (line - axis.point) @ axis.direction
    low, high = float(height.min()), float(height.max())
    heights, diameters = (
        values[np.isfinite(axis.diameters)] for values in (axis.heights, axis.diameters)
    )
    within = (heights >= low) & (heights <= high)
    if not within.any():
        within = np.arange(len(heights)) == np.abs(heights - 0.5 * (low + high)).argmin()
    return FractureLength(high - low, float(np.median(diameters[within])), 0.5 * (low + high))
