"""Thickness of a wall of bone, read along its normal through the blur of a CT.

A threshold reads thin walls too thick, or loses them: a wall of 0.5 mm by 0.68 mm too thick
(Prevrhel et al. 2003, Med Phys 30:1, abstract). A plate that is blurred, fitted to the profile with
its density held, does not (Treece et al. 2010, Med Image Anal 14:276, abstract: unbiased from
0.3 mm on).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints

__all__ = ["Plateau", "WallFit", "find_plateau", "fit_walls"]

#: A full width at half height in standard deviations of a Gaussian.
FWHM = 2.3548
#: Rounds of the fit, and mm that one may change a thickness or a place by.
ROUNDS, STEP = 14, 0.6
#: mm; thinner is told from no wall by luck, and thicker than any wall there is none to fit.
THINNEST, THICKEST = 0.1, 10.0
#: Share of a wall's height by which a profile may rise again past it before the opposite wall is
#: taken to begin.
RISE = 0.35
#: mm; width at half height from which on a wall shows its density in the middle, at 1 mm of blur.
SHOWS = 2.0
#: Walls that show it that are wanted, and the share of them that lies below the plateau: what
#: is curved, porous or slanted reads too low, never too high.
SOME, BELOW = 25, 0.85
#: HU that a wall rises above both its sides at the least.
STANDS = 300.0


@dataclass(frozen=True, slots=True)
class Plateau:
    """What the thickest walls of a bone show."""

    hu: float  # of its cortex; NaN: no wall is thick enough to show it
    fwhm: float  # mm, blur of the CT


@dataclass(frozen=True, slots=True, eq=False)
class WallFit:
    """Walls fitted to ``n`` profiles."""

    thickness: Floats  # (n,) mm
    start: Floats  # (n,) mm along the profile, outer face
    outside: Floats  # (n,) HU
    inside: Floats  # (n,) HU
    rms: Floats  # (n,) HU, what the fit leaves


def find_plateau(profiles: Floats, depths: Floats) -> Plateau:
    """Find the density of thick cortex, and the blur, from profiles across it.

    Parameters
    ----------
    profiles : (n, m) float array, HU
        Along inward normals; NaN: not measured.
    depths : (m,) float array, mm
        Even steps, 0 at the surface.

    Returns
    -------
    Plateau
    """
    nothing = Plateau(np.nan, np.nan)
    values = profiles[np.isfinite(profiles).all(axis=1)]
    if not len(values):
        return nothing
    step = float(depths[1] - depths[0])
    outside = np.median(values[:, depths <= -2.0], axis=1)
    wide = _boxcar(values, max(round(0.75 / step), 1))
    near = (depths >= -0.5) & (depths <= 5.0)
    peak = np.where(near, wide, -np.inf).max(axis=1)
    at = np.where(near, wide, -np.inf).argmax(axis=1)
    after = np.arange(len(depths)) >= at[:, None]
    inside = np.where(after, wide, np.inf).min(axis=1)
    first = _crossing(values, depths, (outside + peak) / 2.0, at, -1)
    last = _crossing(values, depths, (inside + peak) / 2.0, at, 1)
    width = last - first
    stands = peak - np.maximum(outside, inside) > STANDS
    thick = stands & (width >= SHOWS) & (width <= THICKEST)
    if thick.sum() < SOME:
        return nothing
    rows, width, first = values[thick], width[thick], first[thick]
    middle = first + width / 2.0
    core = np.abs(depths - middle[:, None]) <= np.maximum(0.18 * width, 0.6 * step)[:, None]
    level = np.where(core, rows, 0.0).sum(axis=1) / np.maximum(core.sum(axis=1), 1)
    hu = float(np.quantile(level, BELOW))
    return Plateau(hu, _blur(rows, depths, first, outside[thick], level, level >= 0.9 * hu))


def _boxcar(values: Floats, count: int) -> Floats:
    from scipy import ndimage

    smooth: Floats = ndimage.uniform_filter1d(values, count, axis=1, mode="nearest")
    return smooth


def _crossing(values: Floats, depths: Floats, level: Floats, at: Ints, way: int) -> Floats:
    """Depth at which each profile first falls below a level, going out or in from its top."""
    index = np.arange(values.shape[1])
    past = (index <= at[:, None]) if way < 0 else (index >= at[:, None])
    below = past & (values < level[:, None])
    found = below.any(axis=1)
    cell = np.where(found, (below[:, ::-1] if way < 0 else below).argmax(axis=1), 0)
    cell = np.where(way < 0, values.shape[1] - 1 - cell, cell)
    cell = np.clip(cell, 1 if way > 0 else 0, values.shape[1] - (1 if way > 0 else 2))
    row = np.arange(len(values))
    low, high = values[row, cell], values[row, cell - way]
    share = np.clip((level - low) / np.where(high == low, 1.0, high - low), 0.0, 1.0)
    step = depths[1] - depths[0]
    return np.where(found, depths[cell] - way * share * step, np.nan)


def _blur(
    rows: Floats, depths: Floats, first: Floats, outside: Floats, level: Floats, dense: Bools
) -> float:
    """Blur from the outer edge of thick walls, laid over one another."""
    from scipy.special import ndtr

    off = depths - first[dense, None]
    rise = (rows[dense] - outside[dense, None]) / (level - outside)[dense, None]
    use = np.abs(off) <= 0.9
    widths = np.linspace(0.3, 2.4, 85)
    misfit = [float(np.abs(rise[use] - ndtr(off[use] * FWHM / width)).mean()) for width in widths]
    return float(widths[int(np.argmin(misfit))])


def fit_walls(profiles: Floats, depths: Floats, plateau: Plateau) -> WallFit:
    """Fit a blurred plate of known density to each profile.

    Parameters
    ----------
    profiles : (n, m) float array, HU
        Along inward normals; NaN: not measured.
    depths : (m,) float array, mm
        Even steps, 0 at the surface.
    plateau : Plateau
        Density of the cortex, and blur.

    Returns
    -------
    WallFit
        NaN where a profile was not measured.

    Notes
    -----
    ``y0 + (y1 - y0) Φ((x - a) / s) + (y2 - y1) Φ((x - a - t) / s)`` with the plateau ``y1`` and the
    blur ``s`` held; ``y0`` and ``y2`` are solved for at every step (variable projection). What lies
    past the next wall is left out.
    """
    from scipy.special import ndtr

    sigma, hard = plateau.fwhm / FWHM, plateau.hu
    use = _this_wall(profiles)
    whole = use.sum(axis=1) >= 8
    values = np.where(use, profiles, 0.0)
    middle, thick = _first_guess(values, use, depths, hard)
    outer = inner = rms = np.full(len(profiles), np.nan)
    for _ in range(ROUNDS):
        one = (depths - (middle - thick / 2.0)[:, None]) / sigma
        two = (depths - (middle + thick / 2.0)[:, None]) / sigma
        out, within = np.where(use, 1.0 - ndtr(one), 0.0), np.where(use, ndtr(two), 0.0)
        plate = np.where(use, 1.0, 0.0) - out - within
        outer, inner, left = _levels(values - hard * plate, out, within)
        rms = np.sqrt((left**2).sum(axis=1) / np.maximum(use.sum(axis=1), 1))
        bell_one = np.where(use, np.exp(-0.5 * one**2), 0.0) / (sigma * np.sqrt(2.0 * np.pi))
        bell_two = np.where(use, np.exp(-0.5 * two**2), 0.0) / (sigma * np.sqrt(2.0 * np.pi))
        rise, fall = (hard - outer)[:, None] * bell_one, (hard - inner)[:, None] * bell_two
        moved, grown = _newton(left, fall - rise, (rise + fall) / 2.0, out, within)
        middle = middle + moved
        thick = np.clip(thick + grown, THINNEST, THICKEST)
    nothing = np.where(whole, 0.0, np.nan)
    return WallFit(
        thick + nothing, middle - thick / 2.0 + nothing, outer + nothing, inner + nothing,
        rms + nothing,
    )  # fmt: skip


def _this_wall(profiles: Floats) -> Bools:
    """Samples up to where the opposite wall begins; none of a profile with a gap."""
    smooth = _boxcar(np.nan_to_num(profiles, nan=0.0), 3)
    top = np.maximum.accumulate(smooth, axis=1)
    height = top - smooth[:, :1]
    fallen = (height > STANDS) & (smooth < top - RISE * height)
    low = np.minimum.accumulate(np.where(fallen, smooth, np.inf), axis=1)
    again = smooth > low + RISE * height
    before = ~np.logical_or.accumulate(again, axis=1)
    return before & np.isfinite(profiles).all(axis=1, keepdims=True)


def _first_guess(values: Floats, use: Bools, depths: Floats, hard: float) -> tuple[Floats, Floats]:
    """Middle and thickness from the content of each profile above its sides."""
    step = depths[1] - depths[0]
    outside = values[:, depths <= -1.5].mean(axis=1)
    last = np.maximum(use.sum(axis=1) - 1, 0)
    inside = values[np.arange(len(values)), last]
    base = np.where(depths < 1.0, outside[:, None], np.minimum(inside, outside + 400.0)[:, None])
    above = np.where(use, np.maximum(values - base, 0.0), 0.0)
    above = np.where(above > 0.25 * above.max(axis=1, keepdims=True), above, 0.0)
    content = above.sum(axis=1)
    thick = np.clip(content * step / np.maximum(hard - base.mean(axis=1), 200.0), 0.4, 8.0)
    middle = (above * depths).sum(axis=1) / np.maximum(content, 1e-9)
    return middle, thick


def _levels(rest: Floats, out: Floats, within: Floats) -> tuple[Floats, Floats, Floats]:
    """HU on either side of each plate, and what is left over."""
    a, b, c = (out * out).sum(axis=1), (out * within).sum(axis=1), (within * within).sum(axis=1)
    u, v = (out * rest).sum(axis=1), (within * rest).sum(axis=1)
    det = np.maximum(a * c - b * b, 1e-9)
    outer, inner = (c * u - b * v) / det, (a * v - b * u) / det
    return outer, inner, rest - outer[:, None] * out - inner[:, None] * within


def _newton(
    left: Floats, by_middle: Floats, by_thick: Floats, out: Floats, within: Floats
) -> tuple[Floats, Floats]:
    """Step of middle and thickness that lessens what is left over most, held to `STEP`."""
    one = _levels(by_middle, out, within)[2]
    two = _levels(by_thick, out, within)[2]
    a, b, c = (one * one).sum(axis=1), (one * two).sum(axis=1), (two * two).sum(axis=1)
    u, v = (one * left).sum(axis=1), (two * left).sum(axis=1)
    ridge = 1e-3 * (a + c) + 1e-9
    a, c = a + ridge, c + ridge
    det = a * c - b * b
    moved, grown = (c * u - b * v) / det, (a * v - b * u) / det
    return np.clip(moved, -STEP, STEP), np.clip(grown, -STEP, STEP)
