"""What the bone under heads and washers bears."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics import CORTEX_SPREAD, Range, seat_limit, wall_limit
from trajplan.trajectory import Basis, Within, entry_hole

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.mechanics import BoneClass
    from trajplan.trajectory import Trajectories

__all__ = ["head_limit", "ring_hole"]


def ring_hole(screws: Trajectories) -> Floats:
    """Inner diameter of the ring that each head or washer bears with.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    (n,) float array, mm
        The washer's hole, or that which is drilled at the entry.
    """
    hole = entry_hole(screws.dims, screws.technique)
    return np.where(screws.washered, screws.washer_hole, hole)


def head_limit(screws: Trajectories, area: Floats, bone_class: BoneClass) -> Range:
    """Force at which the bone under each head or washer gives way.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    area : (n,) float array, mm²
        Their footprints.
    bone_class : BoneClass
        What the bone is taken for.

    Returns
    -------
    Range
        N. What lies there counts, whatever the screw is made for: a wall is crushed, or punched
        through into what lies inside it, whichever comes first. Where nobody knows the wall,
        soft bone may lie under the head or cortex: the estimate is unknown.
    """
    crushed, soft = (
        seat_limit(area, material.compression)
        for material in (bone_class.cortical, bone_class.cancellous)
    )
    punched = _punch_limit(screws, area, bone_class)
    bare = screws.walls.solid | (screws.walls.basis == Basis.UNKNOWN)
    unknown = np.full_like(area, np.nan)
    return Range(
        low=np.where(bare, soft.low, np.minimum(crushed.low, punched.low)),
        estimate=np.where(bare, unknown, np.minimum(crushed.estimate, punched.estimate)),
        high=np.where(bare, crushed.high, np.minimum(crushed.high, punched.high)),
    )


def _punch_limit(screws: Trajectories, area: Floats, bone_class: BoneClass) -> Range:
    """Force at which each head or washer is punched through the wall, N; NaN: no wall is known."""
    wall, under = screws.walls, screws.under
    hard, soft = bone_class.cortical.shear, bone_class.cancellous.compression
    if hard is None or soft is None:
        return Range(*(np.full_like(area, np.nan) for _ in range(3)))
    assumed = np.where(wall.basis == Basis.ASSUMED, CORTEX_SPREAD, 0.0)
    borne = (wall.basis != Basis.MODELLED) & (under == Within.CANCELLOUS)
    perhaps = (wall.basis != Basis.MODELLED) & (under == Within.UNTOLD)
    bounds = (
        (-assumed, hard.low, np.where(borne, soft.low, 0.0)),
        (0.0 * assumed, hard.estimate, np.where(borne, soft.estimate, 0.0)),
        (assumed, hard.high, np.where(borne | perhaps, soft.high, 0.0)),
    )
    return Range(
        *(
            wall_limit(
                area,
                ring_hole(screws),
                np.fmax((1.0 + spread) * wall.near - screws.seats.countersink, 0.0),
                shear,
                below,
            )
            for spread, shear, below in bounds
        )
    )
