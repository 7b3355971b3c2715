"""Corridors: where screw axes and the rings round them run through a bone."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import (
    containing,
    covered,
    covered_unknown,
    first_after,
    line_spans,
)
from trajplan.fracture import near_fracture
from trajplan.trajectory._axes import Axes, bundle
from trajplan.trajectory._passes import join_canals, passes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone import Bone, Spans
    from trajplan.fracture import Zone

__all__ = ["Corridors", "cast", "off_wall", "wall_angle", "wall_slope"]


@dataclass(frozen=True, slots=True, eq=False)
class Corridors:
    """``n`` axes through a bone, each with a ring of ``k`` lines; depth 0 is the entry.

    Ragged spans have ``n * (k + 1)`` rows, the axis first in each bundle. Where an axis
    misses the bone its origin stays as it was given and every depth is NaN.
    """

    axes: Axes  # origin is the entry
    radius: Floats  # (n,) mm, of the ring
    ring: int  # k
    solid: Spans  # bone
    outer: Spans  # passes inside the outer surface
    hit: Bools  # (n,) the axis meets the bone
    exit: Floats  # (n,) mm
    line_entry: Floats  # (n, k + 1) mm, outer entry of each line; NaN: it misses
    line_exit: Floats  # (n, k + 1) mm
    leaves: Bools  # (n,) the axis leaves the bone between entry and exit
    again: Floats  # (n,) mm, where the axis meets bone again past the exit; NaN: nowhere
    decided: Bools  # (n,) every line of the bundle told inside from outside
    canal: Bools  # (n,) the axis crosses a canal that opens at an end of the bone
    unsure_gap: Bools  # (n,) the axis or its ring crosses what may be a canal, or air

    def take(self, rows: Ints) -> Corridors:
        """Some of the axes.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take, in any order.

        Returns
        -------
        Corridors
        """
        lines = (rows[:, None] * (self.ring + 1) + np.arange(self.ring + 1)).ravel()
        rest: dict[str, Any] = {
            field.name: getattr(self, field.name)[rows]
            for field in fields(self)
            if field.name not in {"axes", "ring", "solid", "outer"}
        }
        solid, outer = self.solid.take(lines), self.outer.take(lines)
        return replace(self, axes=self.axes.take(rows), solid=solid, outer=outer, **rest)

    @property
    def deepest_exit(self) -> Floats:
        """Deepest exit of axis and ring, (n,) mm."""
        deepest: Floats = np.fmax.reduce(self.line_exit, axis=1)
        return deepest

    def exit_within(self, radius: Floats) -> Floats:
        """Deepest exit of a narrower cylinder, such as the hole that a depth gauge hooks in.

        Parameters
        ----------
        radius : (n,) float array, mm
            At most that of the ring.

        Returns
        -------
        (n,) float array, mm
            Between a line of the ring, the axis and the line opposite, the far wall is taken
            for a parabola: exact for a flat wall, and to a few hundredths of a millimetre for
            a round one. Where the opposite line misses, for a straight line.
        """
        ring, axis = self.line_exit[:, 1:], self.line_exit[:, :1]
        half = self.ring // 2
        opposite = np.roll(ring, half, axis=1)
        if self.ring % 2:
            opposite = (opposite + np.roll(ring, half + 1, axis=1)) / 2.0
        opposite = np.where(np.isnan(opposite), 2.0 * axis - ring, opposite)
        share = np.clip(radius / self.radius, 0.0, 1.0)[:, None]
        slope, bow = (ring - opposite) / 2.0, (ring + opposite) / 2.0 - axis
        deepest: Floats = np.fmax.reduce(
            np.concatenate([axis, axis + share * slope + share**2 * bow], axis=1), axis=1
        )
        return deepest


def cast(
    bone: Bone,
    axes: Axes,
    radius: Floats,
    *,
    ring: int,
    crossing: Floats | None = None,
    zones: Sequence[Zone] = (),
) -> Corridors:
    """Cast axes and their rings through a bone.

    The entry is where an axis first enters the bone beyond its origin (if the origin lies
    in bone, where it entered; if all bone lies behind, the first entry of the line). The
    exit is where it leaves the pass that holds the fracture.

    Parameters
    ----------
    bone : Bone
        The bone.
    axes : Axes
        ``n`` axes.
    radius : (n,) float array, mm
        Radius of each ring, as a rule half the thread diameter.
    ring : int
        Lines on each ring.
    crossing : (n,) float array, mm, optional
        Depth from the axis origin at which the fracture is crossed; NaN or absent where
        there is none, then the exit is that of the first pass.
    zones : sequence of Zone
        The fracture: only where it runs is a gap between two bodies part of one pass.

    Returns
    -------
    Corridors
    """
    origin, direction = bundle(axes, radius[:, None], ring, with_axis=True)
    lines = line_spans(bone, origin, direction)

    def fractured(line: Ints, depth: Floats, reach: Floats) -> Bools:
        return near_fracture(zones, origin[line], direction[line], depth, reach)

    parts = passes(lines.outer, fractured)
    outer, canal, unsure = join_canals(bone, parts, origin, direction, ring + 1, crossing)
    entry, exit_, hit = _pass_of(outer, len(axes), ring, crossing)
    moved = Axes(
        np.where(hit[:, None], axes.at(np.where(hit, entry, 0.0)), axes.origin), axes.direction
    )
    shift = np.where(hit, entry, 0.0)
    solid, outer = _shift(lines.solid, shift, ring), _shift(outer, shift, ring)
    exit_ = exit_ - shift
    line_entry, line_exit = _line_ends(outer, _shift(lines.outer, shift, ring), hit, exit_, ring)
    way = np.repeat(np.where(hit, 0.0, np.nan), ring + 1), np.repeat(exit_, ring + 1)
    inside = (covered(outer, *way) + covered_unknown(outer, *way))[:: ring + 1]
    return Corridors(
        axes=moved,
        radius=radius,
        ring=ring,
        solid=solid,
        outer=outer,
        hit=hit,
        exit=exit_,
        line_entry=line_entry,
        line_exit=line_exit,
        leaves=hit & (inside < exit_ - TOUCH),
        again=_more_after(outer, hit, exit_, ring),
        decided=_decided(lines.solid, parts, len(axes), ring) & ~unsure,
        canal=canal,
        unsure_gap=unsure,
    )


#: Depths nearer than this are one depth: far above the 1e-9 mm of the casting, far below
#: anything a drill could tell.
TOUCH = 1e-6


def _pass_of(
    outer: Spans, n: int, ring: int, crossing: Floats | None
) -> tuple[Floats, Floats, Bools]:
    """Entry and exit of each axis, as depths from its origin."""
    axis_line = np.arange(n) * (ring + 1)
    zero = np.zeros(n * (ring + 1))
    begin = first_after(outer, zero)[axis_line]
    count = np.diff(outer.offsets)[axis_line]
    hit = count > 0
    begin = np.where(begin >= 0, begin, np.where(hit, outer.offsets[axis_line], -1))
    finish = begin.copy()
    if crossing is not None:
        holding = containing(outer, np.repeat(crossing, ring + 1))[axis_line]
        finish = np.where(holding > finish, holding, finish)
    entry, exit_ = np.full(n, np.nan), np.full(n, np.nan)
    entry[hit], exit_[hit] = outer.start[begin[hit]], outer.end[finish[hit]]
    return entry, exit_, hit


def _shift(spans: Spans, entry: Floats, ring: int) -> Spans:
    back = np.repeat(entry, ring + 1)[rows_of(spans.offsets)]
    return replace(spans, start=spans.start - back, end=spans.end - back)


def _line_ends(
    outer: Spans, parts: Spans, hit: Bools, exit_: Floats, ring: int
) -> tuple[Floats, Floats]:
    """Outer entry and exit of every line of a bundle, over the axis' own pass.

    Of several bodies those count that the axis runs through: where a wall lies slanted, lines
    of the ring meet the next bone before the axis leaves its own.
    """
    row = rows_of(outer.offsets)
    over = np.where(hit, exit_ - TOUCH, np.nan)
    within = (outer.start < over[row // (ring + 1)]) & (outer.end > TOUCH)
    bodies = int(parts.body.max(initial=0)) + 1
    if bodies > 1:
        part = rows_of(parts.offsets)
        met = (parts.start < over[part // (ring + 1)]) & (parts.end > TOUCH)
        met &= part % (ring + 1) == 0
        held = part[met] // (ring + 1) * bodies + parts.body[met]
        own = within & np.isin(row // (ring + 1) * bodies + outer.body, held)
        within &= own | ~np.isin(row, row[own])
    chosen = np.flatnonzero(within)
    start, end = np.full((2, len(hit) * (ring + 1)), np.nan)
    np.fmin.at(start, row[chosen], outer.start[chosen])
    np.fmax.at(end, row[chosen], outer.end[chosen])
    shape = (len(hit), ring + 1)
    return start.reshape(shape), end.reshape(shape)


def _more_after(outer: Spans, hit: Bools, exit_: Floats, ring: int) -> Floats:
    """Where the axis meets bone again past its exit."""
    rows = rows_of(outer.offsets)
    on_axis = rows % (ring + 1) == 0
    axis = rows // (ring + 1)
    later = on_axis & (outer.start > exit_[axis] - TOUCH)  # the next bone may touch
    again = np.full(len(hit), np.inf)
    np.minimum.at(again, axis[later], outer.start[later])
    return np.where(hit & np.isfinite(again), again, np.nan)


def _decided(solid: Spans, outer: Spans, n: int, ring: int) -> Bools:
    doubt = np.zeros(n * (ring + 1), dtype=np.bool_)
    for spans in (solid, outer):
        doubt[rows_of(spans.offsets)[~spans.known]] = True
    decided: Bools = np.logical_not(np.logical_or.reduce(doubt.reshape(n, ring + 1), axis=1))
    return decided


def wall_angle(ring_depth: Floats, radius: Floats) -> Floats:
    """Angle between an axis and the normal of the wall that its ring meets.

    Parameters
    ----------
    ring_depth : (n, k) float array, mm
        Depth at which each of the evenly spaced ring lines meets the wall.
    radius : (n,) float array, mm
        Radius of the ring.

    Returns
    -------
    (n,) float array, degrees
        0 where the axis stands square on the wall; NaN where a ring line misses it.

    Notes
    -----
    Least-squares plane through the ring's points: the slope is the first Fourier
    coefficient of the depths. Taken over the hole's width and not from the one facet
    under the axis, so a rough surface does not decide it.
    """
    slope = wall_slope(ring_depth, radius)
    degrees: Floats = np.degrees(np.arctan(np.hypot(slope[:, 0], slope[:, 1])))
    return degrees


def wall_slope(ring_depth: Floats, radius: Floats) -> Floats:
    """How steeply, and towards where, the wall that a ring meets falls away.

    Parameters
    ----------
    ring_depth : (n, k) float array, mm
        Depth at which each of the evenly spaced ring lines meets the wall.
    radius : (n,) float array, mm
        Radius of the ring.

    Returns
    -------
    (n, 2) float array
        Depth gained along each of the two directions across the axis (`geometry.frames`), mm
        for each mm aside; NaN where a ring line misses the wall.
    """
    k = ring_depth.shape[1]
    angle = 2.0 * np.pi * np.arange(k) / k
    slope: Floats = 2.0 / k * ring_depth @ np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return slope / radius[:, None]


def off_wall(ring_depth: Floats) -> Floats:
    """How far each ring line departs from the flat wall that its ring meets.

    Parameters
    ----------
    ring_depth : (n, k) float array, mm
        Depth at which each of the evenly spaced ring lines meets the wall.

    Returns
    -------
    (n, k) float array, mm
        Depth less that of the least-squares plane of `wall_angle`: nothing on a flat wall
        however slanted, about half of a step that part of the ring falls down.
    """
    k = ring_depth.shape[1]
    angle = 2.0 * np.pi * np.arange(k) / k
    waves = np.stack([np.cos(angle), np.sin(angle)])
    slope = 2.0 / k * ring_depth @ waves.T
    flat: Floats = ring_depth.mean(axis=1, keepdims=True) + slope @ waves
    return ring_depth - flat


def last_solid_start(corridors: Corridors) -> tuple[Floats, Ints]:
    """Start of the last bone that each line meets before its exit, and how many it meets.

    Parameters
    ----------
    corridors : Corridors
        ``n`` axes with ``k`` ring lines.

    Returns
    -------
    start : (n, k + 1) float array, mm
        NaN where the line meets no bone.
    count : (n, k + 1) int array
        Solid spans that begin between the line's entry and exit.
    """
    solid = passes(corridors.solid)  # two fragments that meet at the fracture are one wall
    rows = rows_of(solid.offsets)
    low, high = corridors.line_entry.ravel(), corridors.line_exit.ravel()
    within = (solid.start < high[rows] - TOUCH) & (solid.end > low[rows] + TOUCH)
    count = np.bincount(rows[within], minlength=len(low))
    start = np.full(len(low), np.nan)
    start[rows[within]] = solid.start[within]  # ascending: the last one stays
    return start.reshape(corridors.line_entry.shape), count.reshape(corridors.line_entry.shape)
