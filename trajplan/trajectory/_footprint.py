"""The footprint: area of bone that a head or a washer bears on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.trajectory._holes import entry_hole
from trajplan.trajectory._seat import SOFT_GAP, surface_depth

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.bone import Bone
    from trajplan.trajectory._trajectory import Trajectories

__all__ = ["head_footprint"]

#: Lines on each circle under a head, and bands between circles from the hole to the head's
#: edge. Where the bone bends away, its edge is found between two circles in proportion; where
#: it ends, to half a band and half a sector: for an edge across a whole 8 mm head over a 4.5 mm
#: hole that is less than 1 mm² of 34.
LINES, BANDS = 48, 12
#: A head in cortex beds in by this much, mm, before it is said to sink (assumption); in soft bone,
#: on a thin wall and with a washer by `SOFT_GAP`.
BEDDING = 0.5


def head_footprint(bone: Bone, screws: Trajectories) -> Floats:
    """Area of bone under each head, or its washer.

    Parameters
    ----------
    bone : Bone
        The bone.
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    (n,) float array, mm²
        Seen along the axis, from the hole to the edge of head or washer; NaN where there is
        no seat.

    Notes
    -----
    Bone counts where it lies no deeper under the highest point of its surface than head or washer
    beds in, and the countersink. A round head is taken to bed into the rim of its hole until it
    bears as a flat ring would (assumption: until then it bears on the rim alone, and harder).
    """
    washered, dims = screws.washered, screws.dims
    hole = entry_hole(dims, screws.technique)
    low = np.where(washered, np.fmax(screws.washer_hole, hole), hole) / 2.0
    high = np.where(washered, screws.washer_diameter, dims.head) / 2.0
    radii = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, BANDS + 1)
    depth = surface_depth(bone, screws.corridors, radii, LINES)
    give = np.where(screws.seats.gives, SOFT_GAP, BEDDING) + screws.seats.countersink
    first = np.fmin.reduce(depth, axis=(1, 2), initial=np.nan)
    spare = (first + give)[:, None, None] - depth  # mm that the bone is high enough by
    ring = np.pi * np.diff(radii**2, axis=1)
    area: Floats = np.einsum("ij,ij->i", ring, _share(spare[:, :-1], spare[:, 1:]).mean(axis=2))
    return np.where(np.isfinite(screws.seats.seat) & (area > 0.0), area, np.nan)


def _share(one: Floats, other: Floats) -> Floats:
    """Share of the way between two points over which bone is high enough; NaN: no bone there."""
    most, least = np.fmax(one, other), np.minimum(one, other)
    with np.errstate(invalid="ignore", divide="ignore"):
        between = np.where(least < 0.0, most / (most - least), 1.0)
    between = np.where(np.isnan(least), 0.5, between)
    return np.where(most > 0.0, between, 0.0)
