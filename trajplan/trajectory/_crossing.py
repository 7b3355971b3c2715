"""Where screws cross the fracture: on the whole ring, not on the axis alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture import fracture_depth
from trajplan.trajectory._axes import bundle

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.fracture import Zone
    from trajplan.trajectory._corridors import Corridors

__all__ = ["Crossing", "cross"]


@dataclass(frozen=True, slots=True, eq=False)
class Crossing:
    """Where the lines of ``n`` bundles cross the fracture; depths from the entry, mm."""

    lines: Floats  # (n, k + 1), the axis first
    inside: Bools  # (n,) the axis crosses it within the bone
    tilt: Floats  # (n,) degrees between axis and fracture normal
    on_patch: Bools  # (n,) every line met the fracture surface itself, not its plane

    @property
    def shallow(self) -> Floats:
        """Shallowest crossing of axis and ring, (n,) mm."""
        return np.fmin.reduce(self.lines, axis=1)

    @property
    def axis(self) -> Floats:
        """Crossing of the axis, (n,) mm."""
        return self.lines[:, 0]

    @property
    def deep(self) -> Floats:
        """Deepest crossing of axis and ring, (n,) mm."""
        return np.fmax.reduce(self.lines, axis=1)


def cross(corridors: Corridors, zone: Zone) -> Crossing:
    """Cross the fracture with the axis and every ring line, from the entry on.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes as cast.
    zone : Zone
        The fracture.

    Returns
    -------
    Crossing
    """
    n, lines = corridors.line_entry.shape
    depth, on_patch = _bundle_depth(corridors, zone)
    depth[~corridors.hit] = np.nan
    axis = depth[:, 0]
    with np.errstate(invalid="ignore"):
        inside = (axis > 0.0) & (axis < corridors.exit)
    cosine = np.abs(corridors.axes.direction @ zone.plane.normal)
    return Crossing(
        lines=depth,
        inside=inside,
        tilt=np.degrees(np.arccos(np.clip(cosine, 0.0, 1.0))),
        on_patch=on_patch.reshape(n, lines).all(axis=1),
    )


def _bundle_depth(corridors: Corridors, zone: Zone) -> tuple[Floats, Bools]:
    origin, direction = bundle(
        corridors.axes, corridors.radius[:, None], corridors.ring, with_axis=True
    )
    depth, on_patch = fracture_depth(zone, origin, direction)
    return depth.reshape(corridors.line_entry.shape), on_patch
