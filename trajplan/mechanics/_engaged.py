"""How much thread bites cortical and cancellous bone beyond the fracture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import covered
from trajplan.trajectory import Basis

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.trajectory import Trajectories

__all__ = ["Engaged", "engaged"]

#: mm; a canal narrower than this along the axis is rounding, not marrow.
TOUCH = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Engaged:
    """Thread of ``n`` screws in solid bone beyond the fracture, mean of the ring, mm."""

    cortical: Floats  # (n,)
    cancellous: Floats  # (n,)
    untold: Floats  # (n,) bone of which nothing says whether it is cortical or cancellous
    assumed: Bools  # (n,) the cortex is an assumption of the case


def engaged(trajectories: Trajectories, cortex_scale: float = 1.0) -> Engaged:
    """Thread that bites, span by span and line by line of the ring.

    Parameters
    ----------
    trajectories : Trajectories
        ``n`` screws.
    cortex_scale : float
        Factor on an assumed cortex, to see what the assumption does.

    Returns
    -------
    Engaged
        All NaN where the axis misses bone or fracture, and where a shallow thread runs in a
        bone with neither a canal nor an assumed cortex: there nothing tells bone from marrow.

    Notes
    -----
    With a canal that the axis crosses, bone is cortex. Where the mesh has a canal but bone
    fills the pass, as in the end of a long bone, the kind is untold. With an assumed cortex
    a shallow thread holds in it alone; a deep one, made for soft bone, also inside it.
    """
    corridors, wall = trajectories.corridors, trajectories.walls
    deep, basis = trajectories.dims.deep, wall.basis
    low = np.fmax(trajectories.crossing.lines, trajectories.bite_from[:, None])
    high = np.fmin(corridors.line_exit, trajectories.tip[:, None])
    inner_from = corridors.line_entry + (cortex_scale * wall.near)[:, None]
    inner_to = corridors.line_exit - (cortex_scale * wall.far)[:, None]
    whole = _bone(trajectories, low, high)
    inner = _bone(trajectories, np.maximum(low, inner_from), np.minimum(high, inner_to))
    assumed, modelled = basis == Basis.ASSUMED, basis == Basis.MODELLED
    hollow = modelled & (wall.near + wall.far < corridors.exit - TOUCH)
    cortical = np.select([hollow, assumed], [whole, whole - inner], 0.0)
    cancellous = np.select([assumed & deep, (basis == Basis.UNKNOWN) & deep], [inner, whole], 0.0)
    known = corridors.hit & trajectories.crossing.inside & (deep | (basis != Basis.UNKNOWN))
    return Engaged(
        cortical=np.where(known, cortical, np.nan),
        cancellous=np.where(known, cancellous, np.nan),
        untold=np.where(known, np.where(modelled & ~hollow, whole, 0.0), np.nan),
        assumed=assumed,
    )


def _bone(trajectories: Trajectories, low: Floats, high: Floats) -> Floats:
    """Mean length of solid bone in a stretch of every ring line; NaN bounds hold none."""
    solid = trajectories.corridors.solid
    length = covered(solid, low.ravel(), high.ravel()).reshape(low.shape)
    mean: Floats = length[:, 1:].mean(axis=1)
    return mean
