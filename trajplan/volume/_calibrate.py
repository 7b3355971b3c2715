"""From Hounsfield units to the density of bone, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from trajplan.errors import VolumeError
from trajplan.volume._peaks import find_peaks

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.volume._image import Ct

__all__ = ["Calibration", "Density", "calibrate"]

#: mg/cm³ of air, fat and muscle on the scale of bone mineral (Szyszko et al. 2024, PLoS One
#: 19:e0305474, abstract).
REFERENCE = np.array([-797.0, -95.0, 38.0])
#: mg/cm³ by which the three may lie off one line; a chest CT lies within 1.
OFF_LINE = 20.0
#: mg/cm³ a HU, and at 0 HU, of a usual scanner at 120 kV (assumption: the line of the three peaks
#: of a chest CT, 0.801 and -10.9; a fixed line does less well than one's own: Eggermont et al.
#: 2019, PLoS One 14:e0220564, abstract).
USUAL = (0.80, -10.0)
#: Tube voltages, kV, at which lines taken at 120 kV hold: the same bone reads 872 HU at 80 kV and
#: 670 at 120 (BMC Med Imaging 2021, doi 10.1186/s12880-021-00554-y, table 3).
VOLTAGES = (110.0, 130.0)
#: Share by which a density may be wrong: by a line of the case nothing is added, by three peaks at
#: a known voltage 5 %, else 15 % (assumptions).
SPREAD = {"case": 0.0, "peaks": 0.05, "usual": 0.15}
#: Ash is 0.877 times what a CT calibrated in mineral reads, plus 0.079 g/cm³ (Schileo et al. 2008,
#: J Biomech 41:2483, full text, from memory; its abstract: linear over the whole range, and not
#: equal).
ASH, ASH_AT_NONE = 0.877, 0.079
#: Ash over apparent density (same, abstract: 0.598 ± 0.004).
ASH_SHARE = 0.598
#: mg/cm³ below which there is marrow or fat and no bone: else what the line of ash adds would give
#: an empty canal 0.13 g/cm³ (a choice; fat -95, muscle 38).
MARROW = 30.0
#: g/cm³; no bone is denser than compact bone, about 2.
DENSEST = 2.2


class Density(NamedTuple):
    """Apparent density, g/cm³, with the bounds that the calibration leaves; NaN: unknown."""

    low: Floats
    estimate: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Calibration:
    """The line from HU to mg/cm³ of bone mineral."""

    slope: float  # mg/cm³ a HU
    offset: float  # mg/cm³
    spread: float  # share of a density by which it may be wrong
    origin: Literal["case", "peaks", "usual"]
    words: str  # one sentence

    def mineral(self, hu: Floats) -> Floats:
        """Density of mineral, mg/cm³.

        Parameters
        ----------
        hu : float array
            HU.

        Returns
        -------
        float array
        """
        return self.slope * hu + self.offset

    def apparent(self, hu: Floats) -> Density:
        """Apparent density of bone.

        Parameters
        ----------
        hu : float array
            HU; NaN: unknown.

        Returns
        -------
        Density
            0 in marrow. Whether what a CT reads is ash, or ash by a line, is not settled: the two
            bound the estimate, which takes the line.
        """
        mineral = self.mineral(hu)
        low, high = _bounds(mineral, 1.0 - self.spread), _bounds(mineral, 1.0 + self.spread)
        return Density(low.min(axis=0), _bounds(mineral, 1.0)[0], high.max(axis=0))


def _bounds(mineral: Floats, share: float) -> Floats:
    """Apparent density by the line of ash, and as if mineral were ash, g/cm³."""
    grams = share * mineral / 1000.0
    both = np.stack([ASH * grams + ASH_AT_NONE, grams]) / ASH_SHARE
    found: Floats = np.where(mineral < MARROW, 0.0, np.clip(both, 0.0, DENSEST))
    return np.where(np.isnan(mineral), np.nan, found)


def calibrate(ct: Ct, given: tuple[float, float] | None = None) -> Calibration:
    """Find the line from HU to density, by order of trust.

    Parameters
    ----------
    ct : Ct
        The CT.
    given : tuple of two floats, optional
        mg/cm³ a HU, and mg/cm³ at 0 HU, as of a phantom that was scanned along.

    Returns
    -------
    Calibration
        What was given; else the peaks of air, fat and muscle of the scan; else the usual line.

    Raises
    ------
    VolumeError
        If none can be right: values that are not HU, or another tube voltage.
    """
    if given is not None:
        words = f"Density is {given[0]:g} mg/cm³ a HU {given[1]:+g}, as the case states."
        return Calibration(*given, SPREAD["case"], "case", words)
    remedy = "state the line of a phantom in bone.calibration, or leave bone.ct out"
    if ct.doubts:
        raise VolumeError(
            f"no density can be taken from it ({ct.doubts[0].rstrip('.')})",
            remedy=remedy,
            file=ct.source.name,
        )
    voltage = ct.source.kilovolts
    if voltage is not None and not VOLTAGES[0] <= voltage <= VOLTAGES[1]:
        raise VolumeError(
            f"it was taken at {voltage:g} kV, at which bone reads otherwise than at 120",
            remedy=remedy,
            file=ct.source.name,
        )
    peaks = find_peaks(ct)
    if peaks.all_found:
        hu = np.array([peaks.air, peaks.fat, peaks.muscle])
        slope, offset = np.polyfit(hu, REFERENCE, 1)
        if np.abs(slope * hu + offset - REFERENCE).max() <= OFF_LINE:
            spread = SPREAD["usual" if voltage is None else "peaks"]
            words = (
                f"Density is {slope:.3f} mg/cm³ a HU {offset:+.1f}, by the air ({peaks.air:.0f} "
                f"HU), fat ({peaks.fat:.0f}) and muscle ({peaks.muscle:.0f}) of the scan (Szyszko "
                f"et al. 2024), {_told(voltage)} and may be wrong by {100 * spread:.0f} %."
            )
            return Calibration(float(slope), float(offset), spread, "peaks", words)
    if voltage is None:
        raise VolumeError(
            "it shows no air, fat and muscle to calibrate by, and does not state its tube voltage",
            remedy=remedy,
            file=ct.source.name,
        )
    words = (
        f"Density is {USUAL[0]:.2f} mg/cm³ a HU {USUAL[1]:+g}, as usual at 120 kV: assumed, for "
        f"the scan shows no air, fat and muscle, and may be wrong by {100 * SPREAD['usual']:.0f} %."
    )
    return Calibration(*USUAL, SPREAD["usual"], "usual", words)


def _told(voltage: float | None) -> str:
    return "tube voltage not stated," if voltage is None else f"at {voltage:g} kV,"
