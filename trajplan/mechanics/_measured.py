"""Holding strength in bone that a CT shows: turn by turn, walls apart from what lies inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from trajplan.arrays import taken
from trajplan.bone import covered
from trajplan.geometry import ring_offsets
from trajplan.mechanics._bone_class import power_law, sound_cortex
from trajplan.mechanics._holding import CORTEX_SPREAD
from trajplan.mechanics._pull_out import shear_area
from trajplan.mechanics._range import Range
from trajplan.trajectory import Basis

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.mechanics._bone_class import BoneClass
    from trajplan.trajectory import Trajectories
    from trajplan.volume import BoneField

__all__ = ["Turns", "measured_holding", "measured_turns", "scaled_cortex", "soft_strength"]

#: g/cm³ of sound cortex, to which the class's strengths belong (Carter and Hayes 1976, from
#: memory).
SOUND = 1.85
#: Share by which the shear strength of bone of one density differs between specimens (Stone,
#: Beaupre and Hayes 1983, abstract: 6.60 ± 1.66 MPa; bovine).
SCATTER = 0.25
#: Circles between core and thread on which density is read, each standing for the same area: there
#: bone shears (Joffre et al. 2017, doi 10.1007/s10237-017-0891-9, abstract).
CIRCLES = 3
#: Samples along a stretch of each line at the least and the most.
LEAST, MOST = 6, 64
#: Share of a stretch that may be unknown: beyond it nothing is told.
UNKNOWN_SHARE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """Thread of ``n`` screws beyond the fracture, turn by turn; NaN past the last."""

    start: Floats  # (n, t) mm
    end: Floats  # (n, t) mm
    density: Range  # each (n, t) g/cm³, of the bone that it bites; of walls the cortex's
    holding: Range  # each (n, t) N

    def take(self, rows: Ints) -> Turns:
        """Some of the screws.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take.

        Returns
        -------
        Turns
        """
        return taken(self, rows)


def soft_strength(density: Range, key: Literal["shear", "compression"]) -> Range:
    """Strength of bone of an apparent density.

    Parameters
    ----------
    density : Range
        g/cm³.
    key : {"shear", "compression"}
        Which strength.

    Returns
    -------
    Range
        MPa, by the power law of the bone classes, capped by sound cortex: what a CT reads above
        it says nothing of its strength (Rho et al. 1995, Med Eng Phys 17:347, abstract).
    """
    coefficient, exponent = power_law(f"cancellous-{key}")
    most = sound_cortex(key)
    low, estimate, high = (
        np.minimum(coefficient * part**exponent, cap)
        for part, cap in (
            (density.low, most.low),
            (density.estimate, most.estimate),
            (density.high, most.high),
        )
    )
    return Range((1.0 - SCATTER) * low, estimate, np.minimum((1.0 + SCATTER) * high, most.high))


def scaled_cortex(field: BoneField, key: Literal["shear", "compression"]) -> Range:
    """Strength of the cortex that a CT shows.

    Parameters
    ----------
    field : BoneField
        What the CT says.
    key : {"shear", "compression"}
        Which strength.

    Returns
    -------
    Range
        MPa, one number each: of sound cortex times the square of its density over `SOUND`, which
        adds nothing past sound (squares: Carter and Hayes 1976, abstract). NaN: no wall shows it.
    """
    sound, density = sound_cortex(key), field.cortex()
    low, estimate, high = (np.minimum(part / SOUND, 1.0) ** 2 for part in density)
    return Range(sound.low * low, sound.estimate * estimate, sound.high * high)


def measured_holding(
    screws: Trajectories, field: BoneField, bone_class: BoneClass, *, quick: bool = False
) -> Range:
    """Holding strength of screws in the bone of a CT.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    field : BoneField
        What the CT says.
    bone_class : BoneClass
        Whose cortex counts where the CT does not show the density of any.
    quick : bool
        Read density on every other line and on one circle, as for thousands of candidates.

    Returns
    -------
    Range
        N. Strength is averaged, never density. Walls count by their own density and thickness: a
        CT blurs them, and density read straight loses 10 to 60 % of what thin walls hold. That is
        the low end. NaN where no thread bites, or density is unknown.
    """
    low = np.fmax(screws.crossing.lines, screws.bite_from[:, None])
    high = np.fmin(screws.corridors.line_exit, screws.tip[:, None])
    holding, _ = _stretch(screws, field, bone_class, (low, high), quick=quick)
    usable = screws.corridors.hit & screws.crossing.inside
    bounds = (holding.low, holding.estimate, holding.high)
    return Range(*(np.where(usable & (part > 0.0), part, np.nan) for part in bounds))


def measured_turns(screws: Trajectories, field: BoneField, bone_class: BoneClass) -> Turns:
    """Holding strength turn by turn.

    Parameters
    ----------
    screws, field, bone_class
        As for `measured_holding`.

    Returns
    -------
    Turns
        From where the thread first bites beyond the fracture to its tip; the last is a part.
    """
    lines = screws.crossing.lines
    begin = np.fmax(np.fmin.reduce(lines, axis=1), screws.bite_from)
    stop = np.fmin(np.fmax.reduce(screws.corridors.line_exit, axis=1), screws.tip)
    pitch = screws.dims.pitch
    length = np.nan_to_num(stop - begin, nan=0.0)
    count = int(np.ceil(np.max(length / pitch, initial=1.0) - 1e-6))
    start = begin[:, None] + np.arange(count) * pitch[:, None]
    end = np.minimum(start + pitch[:, None], stop[:, None])
    start, end = (np.where(start < stop[:, None], part, np.nan) for part in (start, end))
    low = np.fmax(lines, screws.bite_from[:, None])
    high = np.fmin(screws.corridors.line_exit, screws.tip[:, None])
    turns = [
        _stretch(
            screws,
            field,
            bone_class,
            (np.maximum(low, a[:, None]), np.minimum(high, b[:, None])),
            quick=False,
        )
        for a, b in zip(start.T, end.T, strict=True)
    ]
    return Turns(start, end, Range(*_columns([dense for _, dense in turns])),
                 Range(*_columns([hold for hold, _ in turns])))  # fmt: skip


def _columns(parts: list[Range]) -> tuple[Floats, Floats, Floats]:
    low, estimate, high = (
        np.stack([getattr(part, name) for part in parts], axis=1)
        for name in ("low", "estimate", "high")
    )
    return low, estimate, high


def _stretch(
    screws: Trajectories,
    field: BoneField,
    bone_class: BoneClass,
    stretch: tuple[Floats, Floats],
    *,
    quick: bool,
) -> tuple[Range, Range]:
    """Hold, N, and density, g/cm³, of a stretch of the ring, (n, k + 1) from and to."""
    walls, (low, high) = screws.walls, stretch
    sided = (walls.basis == Basis.MEASURED) | (walls.basis == Basis.ASSUMED)
    hollow = (walls.basis == Basis.MODELLED) & ~walls.solid
    solid = _covered(screws, low, high)
    inner = [
        np.where(
            sided, _covered(screws, *_window(screws, low, high, by)), np.where(hollow, 0.0, solid)
        )
        for by in (-1.0, 0.0, 1.0)
    ]
    hard = _cortex(field, bone_class)
    straight = _read(screws, field, (low, high), (low, high), quick=quick)
    soft = straight
    if sided.any():
        within = _window(screws, low, high, 0.0)
        beyond = _window(screws, low, high, 0.0, field.blur)
        apart = _read(screws, field, within, beyond, quick=quick)
        soft = _where(sided, apart, straight)
    per_mm = shear_area(screws.dims.thread, screws.dims.core, screws.dims.pitch)
    bounds = zip(inner, (hard.low, hard.estimate, hard.high),
                 (soft.shear.low, soft.shear.estimate, soft.shear.high), strict=True)  # fmt: skip
    held = [
        per_mm * (_times(solid - part, wall) + _times(part, inside))
        for part, wall, inside in bounds
    ]
    held[0] = np.minimum(held[0], per_mm * _times(solid, straight.shear.estimate))
    dense = field.cortex()
    share = np.divide(inner[1], solid, out=np.zeros_like(solid), where=solid > 0.0)
    told = [
        _times(share, inside) + _times(1.0 - share, np.asarray(wall))
        for inside, wall in zip(
            (soft.density.low, soft.density.estimate, soft.density.high), dense, strict=True
        )
    ]
    nothing = np.where(solid > 0.0, 0.0, np.nan)
    return Range(*held), Range(*(part + nothing for part in told))


def _window(
    screws: Trajectories, low: Floats, high: Floats, by: float, off: float = 0.0
) -> tuple[Floats, Floats]:
    """Part of a stretch between the walls, which are thicker by so many spreads, and off them."""
    walls, corridors = screws.walls, screws.corridors
    assumed = np.where(walls.basis == Basis.ASSUMED, CORTEX_SPREAD, 0.0)
    near = walls.near + by * (walls.near_spread + assumed * walls.near) + off
    far = walls.far + by * (walls.far_spread + assumed * walls.far) + off
    start = corridors.line_entry + np.maximum(near, 0.0)[:, None]
    end = corridors.line_exit - np.maximum(far, 0.0)[:, None]
    if off > 0.0:  # between two walls that are near each other, the middle says most
        middle = (start + end) / 2.0
        start, end = np.minimum(start, middle), np.maximum(end, middle)
        return np.clip(low, start, end), np.clip(high, start, end)
    return np.maximum(low, start), np.minimum(high, end)


def _covered(screws: Trajectories, low: Floats, high: Floats) -> Floats:
    """Mean length of solid bone in a stretch of every ring line, (n,) mm."""
    length = covered(screws.corridors.solid, low.ravel(), high.ravel()).reshape(low.shape)
    mean: Floats = length[:, 1:].mean(axis=1)
    return mean


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    density: Range  # g/cm³, mean
    shear: Range  # MPa, mean


def _where(which: Bools, one: _Read, other: _Read) -> _Read:
    def mixed(a: Range, b: Range) -> Range:
        return Range(
            np.where(which, a.low, b.low),
            np.where(which, a.estimate, b.estimate),
            np.where(which, a.high, b.high),
        )

    return _Read(mixed(one.density, other.density), mixed(one.shear, other.shear))


def _read(
    screws: Trajectories,
    field: BoneField,
    stretch: tuple[Floats, Floats],
    at: tuple[Floats, Floats],
    *,
    quick: bool,
) -> _Read:
    """Density and strength in a stretch of the ring, read at depths of another."""
    corridors, dims = screws.corridors, screws.dims
    lines = np.arange(1, corridors.ring + 1, 2 if quick else 1)
    circles = 1 if quick else CIRCLES
    weight = np.nan_to_num(stretch[1] - stretch[0], nan=0.0)[:, lines]
    weight = np.maximum(weight, 0.0)
    low, high = (part[:, lines] for part in at)
    longest = float(np.max(np.nan_to_num(high - low, nan=0.0), initial=0.0))
    count = LEAST if quick else int(np.clip(np.ceil(longest / field.step), LEAST, MOST))
    share = (np.arange(count) + 0.5) / count
    depth = low[..., None] + np.maximum(high - low, 0.0)[..., None] * share  # (n, l, m)
    squares = (dims.core / 2.0) ** 2, (dims.thread / 2.0) ** 2
    middles = (np.arange(circles) + 0.5) / circles
    radii = np.sqrt(squares[0][:, None] + middles * (squares[1] - squares[0])[:, None])  # (n, c)
    unit = ring_offsets(corridors.axes.direction, np.ones(len(screws)), corridors.ring)[
        :, lines - 1
    ]
    axes = corridors.axes
    along = axes.origin[:, None, None] + depth[..., None] * axes.direction[:, None, None]
    points = along[:, :, None] + (radii[:, None, :, None] * unit[:, :, None])[:, :, :, None]
    used = np.broadcast_to((weight > 0.0)[:, :, None, None], points.shape[:-1])
    hu = np.full(points.shape[:-1], np.nan)
    hu[used] = field.hu(points[used])
    weights = np.broadcast_to(weight[:, :, None, None], hu.shape)
    density = field.calibration.apparent(hu)
    shear = soft_strength(Range(*density), "shear")
    gone = (np.isnan(hu) * weights).sum(axis=(1, 2, 3)) > UNKNOWN_SHARE * weights.sum(
        axis=(1, 2, 3)
    )
    return _Read(
        Range(*(_mean(part, weights, gone) for part in density)),
        Range(*(_mean(part, weights, gone) for part in (shear.low, shear.estimate, shear.high))),
    )


def _mean(values: Floats, weights: Floats, gone: Bools) -> Floats:
    """Mean of what is known, (n,); NaN where too much is not, 0 where there is nothing."""
    known = np.where(np.isnan(values), 0.0, weights)
    total = known.sum(axis=(1, 2, 3))
    summed = (np.nan_to_num(values, nan=0.0) * known).sum(axis=(1, 2, 3))
    mean = np.divide(summed, total, out=np.zeros_like(total), where=total > 0.0)
    return np.where(gone, np.nan, mean)


def _cortex(field: BoneField, bone_class: BoneClass) -> Range:
    """Shear strength of cortex: as dense as the CT shows it, or else the class's."""
    shown = scaled_cortex(field, "shear")
    if np.isfinite(shown.estimate):
        return shown
    stated = bone_class.cortical.shear
    if stated is None:
        return shown
    return Range(np.array(stated.low), np.array(stated.estimate), np.array(stated.high))


def _times(length: Floats, value: Floats) -> Floats:
    """A product that is nothing where there is no length, whatever the value."""
    return np.where(length > 0.0, value * length, 0.0)
