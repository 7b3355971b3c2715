"""What the bone under heads and washers bears."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics import (
    CORTEX_SPREAD,
    Range,
    scaled_cortex,
    seat_limit,
    soft_strength,
    wall_limit,
)
from trajplan.trajectory import Basis, Within, entry_hole

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.mechanics import BoneClass
    from trajplan.trajectory import Trajectories
    from trajplan.volume import BoneField

__all__ = ["head_limit", "ring_hole"]


#: mm under the wall over which soft bone bears it.
UNDER = 4.0
#: mm of wall that a countersink leaves at the least: one that is read too thin is still there.
LEAST_LEFT = 0.1


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


def head_limit(
    screws: Trajectories, area: Floats, bone_class: BoneClass, field: BoneField | None = None
) -> Range:
    """Force at which the bone under each head or washer gives way.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    area : (n,) float array, mm²
        Their footprints.
    bone_class : BoneClass
        What the bone is taken for.
    field : BoneField, optional
        What a CT says of it: wall and what lies inside count as dense as they are there.

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
    if field is not None:
        crushed, soft, punched = _in_ct(screws, area, field, (crushed, soft, punched))
    bare = screws.walls.solid | (screws.walls.basis == Basis.UNKNOWN)
    unknown = np.full_like(area, np.nan)
    return Range(
        low=np.where(bare, soft.low, np.minimum(crushed.low, punched.low)),
        estimate=np.where(bare, unknown, np.minimum(crushed.estimate, punched.estimate)),
        high=np.where(bare, crushed.high, np.minimum(crushed.high, punched.high)),
    )


def _in_ct(
    screws: Trajectories, area: Floats, field: BoneField, classes: tuple[Range, Range, Range]
) -> tuple[Range, Range, Range]:
    """Crushed cortex, crushed soft bone and punched wall, as dense as a CT shows them.

    Where it does not show them, what the class says stays.
    """
    walls = screws.walls
    told = walls.basis == Basis.MEASURED
    depth = np.where(told, walls.near + field.blur, 0.0)  # all that lies there, where no wall shows
    depths = depth[:, None] + np.linspace(0.0, UNDER, 9)
    axes = screws.corridors.axes
    points = axes.origin[:, None] + depths[..., None] * axes.direction[:, None]
    hu = field.hu(points.reshape(-1, 3)).reshape(depths.shape)
    soft = soft_strength(Range(*field.calibration.apparent(hu)), "compression")
    hard, shear = scaled_cortex(field, "compression"), scaled_cortex(field, "shear")
    crushed, yields, punched = [], [], []
    for name, by in (("low", -1.0), ("estimate", 0.0), ("high", 1.0)):
        inside = getattr(soft, name).mean(axis=1)
        left = walls.near + by * walls.near_spread - screws.seats.countersink
        thick = np.fmax(left, LEAST_LEFT)
        crushed.append(area * getattr(hard, name))
        yields.append(np.where(inside > 0.0, area * inside, np.nan))
        plug = wall_limit(area, ring_hole(screws), thick, float(getattr(shear, name)), inside)
        punched.append(np.where(told, plug, np.nan))
    return (
        _rather(Range(*crushed), classes[0]),
        _rather(Range(*yields), classes[1]),
        _rather(Range(*punched), classes[2]),
    )


def _rather(new: Range, old: Range) -> Range:
    """A range where it is known, else another."""
    known = np.isfinite(new.low) & np.isfinite(new.estimate)
    return Range(
        np.where(known, new.low, old.low),
        np.where(known, new.estimate, old.estimate),
        np.where(known, new.high, old.high),
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
