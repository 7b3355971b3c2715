"""How hands err: entry, direction, depth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.geometry import frames
from trajplan.trajectory import Axes

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3s

__all__ = ["Scatter", "scattered", "turned"]


@dataclass(frozen=True, slots=True)
class Scatter:
    """Standard deviations of free-hand drilling, and the draws that are made.

    Notes
    -----
    Entry 1.5 mm and direction 3 degrees on each of two axes are derived defaults, not a
    standard: free-hand drilling at a right angle keeps within 4 degrees in 84.5 % of tries
    (Brioschi et al. 2016, Vet Rec Open, doi 10.1136/vetreco-2016-000172, abstract), which is
    2.8 degrees if errors are normal and unbiased; navigated entries err by 1.3 mm (J Orthop
    Trauma 2005; 19:317, abstract). The depth of 1 mm is an assumption, and so is the aim: a
    gliding hole that ended just at the fracture would be too short every second time, so
    hands drill on until it has surely passed.
    """

    entry: float = 1.5  # mm, along each of two directions across the axis
    direction: float = 3.0  # degrees, about each of two axes
    depth: float = 1.0  # mm, of the gliding hole
    aim: float = 1.0  # mm, how far past its planned end the gliding hole is aimed
    draws: int = 1000
    seed: int = 0


def scattered(axes: Axes, scatter: Scatter) -> tuple[Axes, Floats]:
    """Draw axes as hands would drill them, round each planned axis.

    Parameters
    ----------
    axes : Axes
        ``n`` axes whose origin is the entry.
    scatter : Scatter
        Standard deviations, draws and seed.

    Returns
    -------
    Axes
        ``n * draws`` axes, the draws of each planned axis together.
    depth : (n * draws,) float array, mm
        How far past its planned depth each gliding hole ends.
    """
    n, draws = len(axes), scatter.draws
    rng = np.random.default_rng(scatter.seed)
    shift = rng.normal(scale=scatter.entry, size=(n, draws, 2))
    tilt = rng.normal(scale=np.radians(scatter.direction), size=(n, draws, 2))
    depth = rng.normal(loc=scatter.aim, scale=scatter.depth, size=(n, draws))
    return turned(axes, shift, tilt), depth.ravel()


def turned(axes: Axes, shift: Floats, tilt: Floats) -> Axes:
    """Shift and turn axes about their entries.

    Parameters
    ----------
    axes : Axes
        ``n`` axes whose origin is the entry.
    shift : (n, d, 2) float array, mm
        Shift across the axis.
    tilt : (n, d, 2) float array, radians
        Turn of the direction towards each of the same two directions; its length is the
        angle turned through.

    Returns
    -------
    Axes
        ``n * d`` axes. Their origin lies `STAND_BACK` before the shifted entry, so that the
        entry is found anew on the surface.
    """
    frame = frames(axes.direction)
    across = np.einsum("ndk,nkj->ndj", shift, frame[:, :2])
    angle = np.linalg.norm(tilt, axis=2)[..., None]
    towards = np.einsum("ndk,nkj->ndj", tilt, frame[:, :2]) / np.where(angle > 0.0, angle, 1.0)
    direction: Vec3s = np.cos(angle) * frame[:, None, 2] + np.sin(angle) * towards
    origin = axes.origin[:, None] + across - STAND_BACK * direction
    return Axes.along(origin.reshape(-1, 3), direction.reshape(-1, 3))


#: Distance before the planned entry from which a drill's way is followed: past the rise
#: of any wall that a drill can be set on, short of the next piece of bone.
STAND_BACK = 10.0
