"""The long axis of a bone, from its own shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import as_directions, freeze, offsets_of, rows_of
from trajplan.errors import MeshError
from trajplan.geometry import frames

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.bone._types import Surface

__all__ = ["ShaftAxis", "shaft_axis"]

#: Slices across the bone over its whole length.
SLICES = 61
#: Share of the length, about its middle, that counts as shaft (the ends flare).
MIDDLE = 0.6
#: Faces that the first axis is taken from, about; it is but a start.
SAMPLE = 50_000
#: Slices of the shaft without which there is no line to speak of.
LEAST_SLICES = 10
#: Rounds of slicing across the last axis, and degrees below which they have settled.
ROUNDS = 8
SETTLED = 0.01
#: A bone shorter than this many of its own diameters has no shaft (assumption: a ball has 1,
#: the end of a bone cut off with a stump of shaft up to about 2).
LEAST_SLENDER = 2.5
#: Share of its diameter by which a shaft's middle may stray from a straight line, root mean
#: square, before one axis misleads (assumption).
MOST_STRAY = 0.25
#: Greatest width over least, in the median slice, past which a bone is a plate and has no
#: shaft (assumption; measured on open bone surfaces: long bones 1.2 to 1.6, pelvis and
#: shoulder blade 2.9 and 5.3).
MOST_OBLONG = 2.2
#: Widths of an end that its joints are taken to lie within: the rule of squares counts radius and
#: ulna as one, so that the square of one of them alone falls short (half as much again:
#: assumption; at the elbow the ulna's joint with the radius ends some 45 mm from its tip).
SQUARE = 1.5
#: Directions in which the width of a slice is taken.
WIDTHS = 18
#: mm; slices nearer to the line than this count alike in its fit, which keeps weights finite.
ALIKE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class ShaftAxis:
    """Long axis of a bone; heights count along it from its point."""

    point: Vec3  # (3,) mm, on the axis at the middle of the bone's length
    direction: Vec3  # (3,) unit, its largest component positive
    straightness: float  # mm, root mean square distance of the middles of the shaft's slices
    diameter: float  # mm, median over the shaft: the middle 60 % of the length; NaN: nothing there
    low: float  # mm, lowest point of the bone along the axis
    high: float  # mm, highest
    heights: Floats  # (s,) mm, slices across the whole bone
    diameters: Floats  # (s,) mm, mean width of each slice; NaN where the surface is open
    end_widths: tuple[float, float]  # mm, greatest width in the low and in the high third; NaN
    oblong: float  # greatest width over least, in the median slice of the shaft; NaN as above
    caution: str  # why the axis is not to be trusted; empty for a shaft

    @property
    def found(self) -> bool:
        """Whether the bone has a shaft that one straight axis describes."""
        return not self.caution

    @property
    def stout(self) -> bool:
        """Whether the bone is too short for its width to have a shaft."""
        return self.length < LEAST_SLENDER * self.diameter

    @property
    def short_or_flat(self) -> bool:
        """Whether the bone is too short, or too flat, to have a shaft at all."""
        return self.stout or self.oblong > MOST_OBLONG

    @property
    def length(self) -> float:
        """Length of the bone along the axis, mm."""
        return self.high - self.low

    def past_ends(self, heights: Floats, spare: float = 0.0) -> bool:
        """Whether heights lie in the shaft by the rule of squares, and half as much again.

        The end of a long bone, with all of its joint surface, is the square whose sides are as
        long as its widest part (Müller, Nazarian, Koch, Schatzker, The Comprehensive
        Classification of Fractures of Long Bones, 1990; kept by the compendium of 2018).

        Parameters
        ----------
        heights : (n,) float array, mm
            Along the axis from its point.
        spare : float, mm
            Wanted past each square.

        Returns
        -------
        bool
            False for NaN, for no height, and on a bone without a shaft.
        """
        if not self.found or len(heights) == 0:
            return False
        low, high = (SQUARE * width for width in self.end_widths)
        above = heights >= self.low + low + spare
        below = heights <= self.high - high - spare
        return bool((above & below).all())

    def away_from_ends(self, height: float) -> bool:
        """Whether a height lies in the middle of the length, where the ends do not flare.

        Parameters
        ----------
        height : float, mm
            Along the axis from its point.

        Returns
        -------
        bool
            False for NaN, and on a bone without a shaft.
        """
        return self.found and abs(height) <= MIDDLE / 2.0 * self.length


def shaft_axis(surface: Surface) -> ShaftAxis:
    """Find the long axis of a bone.

    Parameters
    ----------
    surface : Surface
        The bone, open or closed, whole or in fragments that are in place.

    Returns
    -------
    ShaftAxis
        Of a bone without a shaft, such as an end by itself, its longest direction, and a
        caution that says so.

    Raises
    ------
    MeshError
        If the surface has no area.

    Notes
    -----
    The first axis is the long one of the surface's second moments, area by area. Across it
    the bone is sliced; through the middles of the slices' outlines, each weighted by its
    length, runs the line of least sum of distances, which a few odd slices do not move;
    across that line the bone is sliced anew, until the line settles. Only the middle 60 % of
    the length counts, so flared ends do not pull. The width of a slice is the mean over 18
    directions: for any convex outline its perimeter over pi (Cauchy), and it asks neither
    for a closed outline nor for the canal to be told from the outside.
    """
    if len(surface.faces) == 0:
        raise MeshError("no faces", remedy="export the surface again", file=surface.name)
    middle, direction = _first_axis(surface)
    used = surface.used()
    for _ in range(ROUNDS):
        slices = _slices(surface, used, middle, direction)
        shaft = slices.shaft()
        if np.count_nonzero(shaft) < LEAST_SLICES:
            break
        point, new = _line(slices.middles[shaft])
        new = new * np.copysign(1.0, new @ direction)
        turned = float(np.degrees(np.arccos(min(float(new @ direction), 1.0))))
        middle, direction = point, new
        if turned < SETTLED:
            break
    return _described(surface.vertices[used], middle, direction, slices)


@dataclass(frozen=True, slots=True, eq=False)
class _Slices:
    """Slices of a bone across an axis."""

    share: Floats  # (s,) of the bone's length
    middles: Vec3s  # (s,) mm, NaN where the plane meets nothing
    diameters: Floats  # (s,) mm
    widest: Floats  # (s,) mm, greatest width
    oblong: Floats  # (s,) greatest width over least

    def shaft(self) -> Bools:
        """Slices in the middle of the length."""
        inner = np.abs(self.share - 0.5) <= MIDDLE / 2.0 + 1e-9
        return inner & np.isfinite(self.diameters)


def _first_axis(surface: Surface) -> tuple[Vec3, Vec3]:
    step = 1 + len(surface.faces) // SAMPLE
    a, b, c = surface.vertices[surface.faces[::step]].transpose(1, 0, 2)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    if not area.sum() > 0.0:
        raise MeshError(
            "the surface has no area", remedy="export the surface again", file=surface.name
        )
    middle = np.average((a + b + c) / 3.0, axis=0, weights=area)
    moment = np.zeros((3, 3))
    for corner in (a, b, c, a + b + c - 2.0 * middle):  # exact for triangles, up to a factor
        moment += ((corner - middle).T * area) @ (corner - middle)
    return middle, np.linalg.eigh(moment)[1][:, 2]


def _slices(surface: Surface, used: Bools, middle: Vec3, direction: Vec3) -> _Slices:
    height = (surface.vertices - middle) @ direction
    low, high = float(height[used].min()), float(height[used].max())
    share = (np.arange(SLICES) + 0.5) / SLICES
    level, ends = _cut(surface, height, low + share * (high - low))
    middles = np.full((SLICES, 3), np.nan)
    diameters, widest, oblong = (np.full(SLICES, np.nan) for _ in range(3))
    met = np.unique(level)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    total = np.bincount(level, length, SLICES)[met]
    for k in range(3):
        moment = np.bincount(level, length * ends[:, :, k].mean(axis=1), SLICES)[met]
        middles[met, k] = moment / np.maximum(total, np.finfo(float).tiny)
    widths = _widths(level, ends, direction)
    met, widths = met[total > 0.0], widths[total > 0.0]
    diameters[met] = widths.mean(axis=1)
    widest[met] = widths.max(axis=1)
    oblong[met] = widest[met] / np.maximum(widths.min(axis=1), np.finfo(float).eps)
    return _Slices(share, middles, diameters, widest, oblong)


def _cut(surface: Surface, height: Floats, levels: Floats) -> tuple[Ints, Floats]:
    """Segments in which planes cut faces: level of each, sorted, and its ends (m, 2, 3)."""
    a, b, c = height[surface.faces.T]
    first = np.searchsorted(levels, np.minimum(np.minimum(a, b), c))
    count = np.searchsorted(levels, np.maximum(np.maximum(a, b), c)) - first
    cut = np.flatnonzero(count)
    offsets = offsets_of(count[cut])
    row = rows_of(offsets)
    level = first[cut][row] + np.arange(offsets[-1]) - offsets[row]
    order = np.argsort(level, kind="stable")
    level, corner = level[order], surface.faces[cut[row[order]]]
    above = height[corner] > levels[level][:, None]  # (m, 3): one corner is apart from two
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    tip, *others = (np.take_along_axis(corner, (lone[:, None] + k) % 3, 1)[:, 0] for k in range(3))
    ends = []
    for other in others:
        part = (levels[level] - height[tip]) / (height[other] - height[tip])
        step = surface.vertices[other] - surface.vertices[tip]
        ends.append(surface.vertices[tip] + part[:, None] * step)
    return level, np.stack(ends, axis=1)


def _widths(level: Ints, ends: Floats, direction: Vec3) -> Floats:
    """Widths of each slice that is met, in the order of the levels, (s, WIDTHS)."""
    if len(level) == 0:
        return np.zeros((0, WIDTHS))
    turn = np.pi * np.arange(WIDTHS) / WIDTHS
    across = np.stack([np.cos(turn), np.sin(turn)], axis=1) @ frames(direction[None])[0, :2]
    start = np.flatnonzero(np.diff(level, prepend=-1))
    flat = ends @ across.T  # (m, 2, w)
    high = np.maximum.reduceat(flat.max(axis=1), start)
    low = np.minimum.reduceat(flat.min(axis=1), start)
    widths: Floats = high - low
    return widths


def _line(points: Vec3s) -> tuple[Vec3, Vec3]:
    """Line of least sum of distances to points, by reweighting."""
    weights = np.ones(len(points))
    for _ in range(30):
        middle = np.average(points, axis=0, weights=weights)
        centred = points - middle
        direction = np.linalg.eigh((centred.T * weights) @ centred)[1][:, 2]
        weights = 1.0 / np.maximum(_strays(points, middle, direction), ALIKE)
    return middle, direction


def _strays(points: Vec3s, middle: Vec3, direction: Vec3) -> Floats:
    """Distances of points from a line."""
    apart = points - middle
    strays: Floats = np.linalg.norm(apart - (apart @ direction)[:, None] * direction, axis=1)
    return strays


def _described(points: Vec3s, middle: Vec3, direction: Vec3, slices: _Slices) -> ShaftAxis:
    direction = direction * np.copysign(1.0, direction[np.abs(direction).argmax()])
    height = (points - middle) @ direction
    half = 0.5 * float(np.ptp(height))
    point = middle + 0.5 * (height.min() + height.max()) * direction
    shaft = slices.shaft()
    enough = np.count_nonzero(shaft) >= LEAST_SLICES
    diameter = straightness = oblong = float("nan")
    if enough:
        strays = _strays(slices.middles[shaft], middle, direction)
        straightness = float(np.sqrt(np.mean(strays**2)))
        diameter = float(np.median(slices.diameters[shaft]))
        oblong = float(np.median(slices.oblong[shaft]))
    order = np.argsort((slices.middles - point) @ direction)  # NaN last
    heights = ((slices.middles - point) @ direction)[order]
    axis = ShaftAxis(
        point=point,
        direction=as_directions(direction)[0],
        straightness=straightness,
        diameter=diameter,
        low=-half,
        high=half,
        heights=heights,
        diameters=slices.diameters[order],
        end_widths=_end_widths(slices.widest[order]),
        oblong=oblong,
        caution=_caution(2.0 * half, diameter, straightness, oblong),
    )
    freeze(axis.point, axis.heights, axis.diameters)
    return axis


def _end_widths(widest: Floats) -> tuple[float, float]:
    third = SLICES // 3
    parts = widest[:third], widest[-third:]
    low, high = (float(np.fmax.reduce(part)) for part in parts)
    return low, high


def _caution(length: float, diameter: float, straightness: float, oblong: float) -> str:
    if np.isnan(diameter):
        return "The surface has nothing over most of its length: no shaft axis can be found."
    if length < LEAST_SLENDER * diameter:
        return (
            f"The bone is {length:.0f} mm long and {diameter:.0f} mm wide: it has no shaft, and "
            "its longest direction is no shaft axis."
        )
    if oblong > MOST_OBLONG:
        return (
            f"The bone is flat, {oblong:.1f} times as wide as it is thick: it has no shaft, and "
            "its longest direction is no shaft axis."
        )
    if straightness > MOST_STRAY * diameter:
        return (
            f"The bone is bent: the middle of its shaft strays {straightness:.1f} mm from a "
            "straight line, and one axis does not describe it."
        )
    return ""
