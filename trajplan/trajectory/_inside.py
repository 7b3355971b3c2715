"""What lies inside the cortex at a place of a bone: cancellous bone, or marrow."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3, Vec3s
    from trajplan.bone import ShaftAxis
    from trajplan.trajectory._corridors import Corridors
    from trajplan.trajectory._walls import Walls
    from trajplan.volume import BoneField

__all__ = ["NOWHERE_TOLD", "Inside", "Within", "everywhere", "inside_of", "within_ct"]

#: A bone end flares: from this many shaft diameters on a slice belongs to one (assumption; the
#: ends of long bones are one and a half to three times as wide as their shafts).
FLARE = 1.25
#: mm on either side of a place along an axis over which a CT is averaged there, and samples.
AROUND, SAMPLES = 1.5, 5


class Within(IntEnum):
    """What fills a bone inside its cortex."""

    CANCELLOUS = 0  # a bone end, or a bone that is short or flat
    MARROW = 1  # a shaft
    UNTOLD = 2  # one or the other


@dataclass(frozen=True, slots=True, eq=False)
class Inside:
    """What fills a bone inside its cortex, place by place."""

    everywhere: Within | None  # one answer for the whole bone; None: by height along the shaft
    otherwise: Within  # where the height does not tell
    point: Vec3  # (3,) mm
    direction: Vec3  # (3,) unit
    #: Towards either end of the shaft, below and above: height in mm from the point up to which
    #: there is marrow, and from which on there is cancellous bone.
    ends: tuple[tuple[float, float], tuple[float, float]]

    def at(self, points: Vec3s) -> Ints:
        """What fills the bone at places.

        Parameters
        ----------
        points : (n, 3) float array, mm
            Places; NaN rows are untold.

        Returns
        -------
        (n,) int array, values of `Within`
        """
        if self.everywhere is not None:
            return np.full(len(points), int(self.everywhere))
        height: Floats = (points - self.point) @ self.direction
        marrow, cancellous = np.isfinite(height), np.zeros(len(points), dtype=np.bool_)
        for side, (inner, outer) in zip((-1.0, 1.0), self.ends, strict=True):
            marrow &= side * height <= inner
            cancellous |= side * height >= outer
        word = np.where(marrow, int(Within.MARROW), int(self.otherwise))
        return np.where(cancellous, int(Within.CANCELLOUS), word)


def inside_of(shaft: ShaftAxis, stated: Within | None) -> Inside:
    """Find what fills a bone inside its cortex.

    Parameters
    ----------
    shaft : ShaftAxis
        The bone's long axis.
    stated : Within or None
        What the case states of the broken place; it holds where the shape does not tell, and in
        all of a bone without a shaft.

    Returns
    -------
    Inside

    Notes
    -----
    Short and flat bones, and ends cut off by themselves, are filled with cancellous bone; a
    shaft holds marrow (anatomy, common practice). Two signs tell an end of a long bone: the
    square as wide as its widest slice (the rule of squares of fracture classification, common
    practice), and the flare. Where both agree it is told, between them it is not. An end that
    does not flare may be a slender one or a cut: a shaft's width from it nothing is told.
    """
    everywhere = None
    if not shaft.found:
        told = Within.CANCELLOUS if shaft.short_or_flat and _varies(shaft) else Within.UNTOLD
        everywhere = told if stated is None else stated
    ends = (_end(shaft, -1.0), _end(shaft, 1.0))
    otherwise = Within.UNTOLD if stated is None else stated
    return Inside(everywhere, otherwise, shaft.point, shaft.direction, ends)


def _varies(shaft: ShaftAxis) -> bool:
    """Whether slices differ in width, as those of a whole bone do and those of a cut shaft not."""
    widths = shaft.diameters[np.isfinite(shaft.diameters)]
    return bool(len(widths) > 0 and widths.max() >= FLARE * widths.min())


def _end(shaft: ShaftAxis, side: float) -> tuple[float, float]:
    """Heights towards one end up to which there is marrow, and from which on cancellous bone."""
    height = side * shaft.heights
    flares = (height > 0.0) & (shaft.diameters >= FLARE * shaft.diameter)  # NaN flares not
    high = side * (shaft.high if side > 0.0 else shaft.low)
    if not flares.any():
        return high - shaft.diameter, np.inf
    square = high - float(shaft.diameters[flares].max())
    flare = float(height[flares].min())
    return min(square, flare), max(square, flare)


def within_ct(
    field: BoneField, corridors: Corridors, wall: Walls, depth: Floats, otherwise: Ints
) -> Ints:
    """What fills the bone inside its walls at a depth of each axis, by its density in a CT.

    Parameters
    ----------
    field : BoneField
        What the CT says.
    corridors : Corridors
        ``n`` axes.
    wall : Walls
        Their walls; a place in one is moved to what lies next to it inside.
    depth : (n,) float array, mm
        Depths.
    otherwise : (n,) int array, values of `Within`
        The answer where the CT cannot tell.

    Returns
    -------
    (n,) int array, values of `Within`
    """
    past = field.blur + AROUND
    first = np.nan_to_num(wall.near, nan=0.0) + past
    last = corridors.exit - np.nan_to_num(wall.far, nan=0.0) - past
    at = np.where(first < last, np.clip(depth, first, last), (first + last) / 2.0)
    depths = at[:, None] + np.linspace(-AROUND, AROUND, SAMPLES)
    axes = corridors.axes
    points = axes.origin[:, None] + depths[..., None] * axes.direction[:, None]
    points[~np.isfinite(points).all(axis=2)] = np.nan
    mean = field.hu(points.reshape(-1, 3)).reshape(depths.shape).mean(axis=1)
    bone = field.calibration.apparent(mean).estimate > 0.0
    told = np.where(bone, int(Within.CANCELLOUS), int(Within.MARROW))
    return np.where(np.isfinite(mean), told, otherwise)


def everywhere(within: Within) -> Inside:
    """One answer for a whole bone.

    Parameters
    ----------
    within : Within
        What fills it.

    Returns
    -------
    Inside
    """
    return Inside(within, within, np.zeros(3), np.zeros(3), ((np.inf, np.inf), (np.inf, np.inf)))


#: Nothing is known of the bone but its surface.
NOWHERE_TOLD = everywhere(Within.UNTOLD)
