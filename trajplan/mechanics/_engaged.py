"""How much thread bites cortical and cancellous bone beyond the fracture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import covered
from trajplan.trajectory import Basis, Within

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats
    from trajplan.trajectory import Trajectories

__all__ = ["Engaged", "engaged"]


@dataclass(frozen=True, slots=True, eq=False)
class Engaged:
    """Thread of ``n`` screws in solid bone beyond the fracture, mean of the ring, mm."""

    cortical: Floats  # (n,)
    cancellous: Floats  # (n,)
    untold: Floats  # (n,) bone of which nothing says whether it is cortical or cancellous
    assumed: Bools  # (n,) the cortex is an assumption of the case, or read in a CT
    perhaps: Floats | float = 0.0  # (n,) cancellous bone or marrow inside an assumed cortex


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
        All NaN where the axis misses bone or fracture, and where it runs in a bone with neither
        a canal nor an assumed cortex that may hold marrow: there nothing tells bone from marrow.

    Notes
    -----
    What lies there counts, whatever the thread is made for. With a canal that the axis crosses,
    bone is cortex. Where the mesh has a canal but bone fills the pass, as in the end of a long
    bone, the kind is untold. Inside an assumed cortex there is cancellous bone in a bone end,
    nothing in a shaft, and one or the other where the place does not tell.
    """
    corridors, wall = trajectories.corridors, trajectories.walls
    basis, within = wall.basis, trajectories.inside
    low = np.fmax(trajectories.crossing.lines, trajectories.bite_from[:, None])
    high = np.fmin(corridors.line_exit, trajectories.tip[:, None])
    inner_from = corridors.line_entry + (cortex_scale * wall.near)[:, None]
    inner_to = corridors.line_exit - (cortex_scale * wall.far)[:, None]
    whole = _bone(trajectories, low, high)
    inner = _bone(trajectories, np.maximum(low, inner_from), np.minimum(high, inner_to))
    modelled = basis == Basis.MODELLED
    assumed = (basis == Basis.ASSUMED) | (basis == Basis.MEASURED)
    soft = within == Within.CANCELLOUS
    cortical = np.select([modelled & ~wall.solid, assumed], [whole, whole - inner], 0.0)
    cancellous = np.select([assumed & soft, (basis == Basis.UNKNOWN) & soft], [inner, whole], 0.0)
    known = corridors.hit & trajectories.crossing.inside & (soft | (basis != Basis.UNKNOWN))
    return Engaged(
        cortical=np.where(known, cortical, np.nan),
        cancellous=np.where(known, cancellous, np.nan),
        untold=np.where(known, np.where(wall.solid, whole, 0.0), np.nan),
        assumed=assumed,
        perhaps=np.where(assumed & (within == Within.UNTOLD), inner, 0.0),
    )


def _bone(trajectories: Trajectories, low: Floats, high: Floats) -> Floats:
    """Mean length of solid bone in a stretch of every ring line; NaN bounds hold none."""
    solid = trajectories.corridors.solid
    length = covered(solid, low.ravel(), high.ravel()).reshape(low.shape)
    mean: Floats = length[:, 1:].mean(axis=1)
    return mean
