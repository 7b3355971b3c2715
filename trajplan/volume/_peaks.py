"""Air, fat and muscle in a CT: where its scale must lie."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.volume._sample import LEAST_HU

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.volume._image import Ct

__all__ = ["Peaks", "find_peaks", "scale_doubt"]

#: Bins of the histogram, HU; wide enough to hold the noise of a thin slice, smoothed by `SMOOTH`.
LOW, HIGH, BIN, SMOOTH = -1060, 400, 2, 12.0
#: Where each peak must lie, HU: air is -1000 by definition, and scanners keep to it by 60 or so;
#: fat and muscle at 110 to 130 kV (common practice: -120 to -80, and 40 to 70).
AIR, FAT, MUSCLE = (-1060.0, -940.0), (-140.0, -70.0), (20.0, 90.0)
#: Share of the measured voxels that a peak must hold within 20 HU of its top to be one.
ENOUGH = 0.003
#: How much higher than the valley between fat and muscle both must be, as a share of the lower.
VALLEY = 0.1


@dataclass(frozen=True, slots=True)
class Peaks:
    """HU of what a body holds; NaN: no such peak."""

    air: float
    fat: float
    muscle: float

    @property
    def all_found(self) -> bool:
        """Whether there are all three."""
        return bool(np.isfinite([self.air, self.fat, self.muscle]).all())


def find_peaks(ct: Ct) -> Peaks:
    """Find the peaks of air, fat and muscle in the histogram of a CT.

    Parameters
    ----------
    ct : Ct
        The CT.

    Returns
    -------
    Peaks
    """
    from scipy import ndimage

    edges = np.arange(LOW, HIGH + BIN, BIN)
    counts = np.zeros(len(edges) - 1)
    measured = 0
    for part in ct.values:
        seen = part[part >= LEAST_HU]  # NaN is not
        measured += seen.size
        counts += np.histogram(seen, edges)[0]
    smooth = ndimage.gaussian_filter1d(counts, SMOOTH / BIN)
    middles = (edges[:-1] + edges[1:]) / 2.0
    air, fat, muscle = (
        _top(counts, smooth, middles, span, measured) for span in (AIR, FAT, MUSCLE)
    )
    if np.isfinite(fat) and np.isfinite(muscle):
        between = smooth[(middles > fat) & (middles < muscle)].min()
        lower = min(np.interp([fat, muscle], middles, smooth))
        if between > (1.0 - VALLEY) * lower:
            fat = muscle = np.nan
    return Peaks(air, fat, muscle)


def _top(
    counts: Floats, smooth: Floats, middles: Floats, span: tuple[float, float], measured: int
) -> float:
    """Top of a peak inside a span; NaN where the histogram only rises through it."""
    within = np.flatnonzero((middles >= span[0]) & (middles <= span[1]))
    top = within[np.argmax(smooth[within])]
    near = np.abs(middles - middles[top]) <= 20.0
    if counts[near].sum() < ENOUGH * measured:
        return np.nan
    if top in (within[0], within[-1]) and span is not AIR:
        return np.nan
    weight = smooth[near]  # of a peak that stands alone its middle is the top
    return float(weight @ middles[near] / weight.sum())


def scale_doubt(ct: Ct) -> str | None:
    """Why the numbers of a CT cannot be taken for Hounsfield units.

    Parameters
    ----------
    ct : Ct
        The CT.

    Returns
    -------
    str or None
        A sentence; None where air lies at -1000, or, without air, fat and muscle where they belong.
    """
    peaks = find_peaks(ct)
    if np.isfinite(peaks.air) or (np.isfinite(peaks.fat) and np.isfinite(peaks.muscle)):
        return None
    return (
        "There is no air at -1000, nor fat and muscle where they belong: the values may be "
        "shifted, as by 1024, and are not taken for Hounsfield units."
    )
