"""What is said of a pair of fragments: gap, step, overlap, and how much of the rim is seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.fracture._cautions import count_of
from trajplan.fracture._turn import measure_turn
from trajplan.fracture._types import Offset, Overlap, PairReport

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.fracture._midsurface import MidSurface
    from trajplan.fracture._stepoff import Rim
    from trajplan.fracture._types import Zone

__all__ = ["pair_cautions", "pair_name", "pair_report"]

#: mm of overlap, step or gap from which it is said (assumption: beyond what the noise of a
#: segmentation explains).
SAID_OVERLAP, SAID_STEP, SAID_GAP = 0.5, 1.0, 2.0
#: Share of a surface, or of a rim, by which a misfit is called wide: a chip that is missing
#: somewhere leaves the rest reduced (assumption).
WIDE = 0.9
#: Share of the rim that must be found for nothing to be said.
SAID_RIM = 0.9


def pair_name(pair: tuple[int, int]) -> str:
    """Name two fragments as a person counts them, from 1.

    Parameters
    ----------
    pair : tuple of int
        Their numbers, from 0.

    Returns
    -------
    str
    """
    return f"Fragments {pair[0] + 1} and {pair[1] + 1}"


def pair_report(middle: MidSurface, rim: Rim, zones: tuple[Zone, ...]) -> PairReport:
    """Sum up how two fragments fit.

    Parameters
    ----------
    middle : MidSurface
        The surface between them, with the gap.
    rim : Rim
        Its rim, with the step.
    zones : tuple of Zone
        The zones of that surface.

    Returns
    -------
    PairReport
    """
    points, gap, area = middle.surface.vertices, middle.gap, middle.area
    known = np.isfinite(rim.step)
    step = _offset(np.abs(rim.step[known]), rim.length[known], rim.points[known])
    sunk = np.clip(-gap, 0.0, None)
    depth = _offset(sunk, area, points)
    where = depth.where if depth.largest > 0.0 else _nowhere()
    return PairReport(
        fragments=middle.fragments,
        zones=tuple(zone.id for zone in zones),
        area=float(area.sum()),
        gap=_offset(gap, area, points),
        step=step,
        rim_found=float(rim.length[rim.found].sum() / rim.length.sum()) if len(rim.length) else 1.0,
        overlap=Overlap(float(sunk @ area), depth.largest, where),
        islands=middle.islands,
        turn=measure_turn(middle, rim),
    )


def _offset(size: Floats, weight: Floats, points: Vec3s) -> Offset:
    if len(size) == 0:
        return Offset(float("nan"), float("nan"), _nowhere(), float("nan"))
    most = int(size.argmax())
    where = points[most].copy()
    freeze(where)
    mean = float(np.average(size, weights=weight))
    return Offset(mean, float(size[most]), where, _below(size, weight))


def _below(size: Floats, weight: Floats) -> float:
    """What `WIDE` of the weight stays below."""
    order = np.argsort(size)
    total = np.cumsum(weight[order])
    return float(size[order[np.searchsorted(total, WIDE * total[-1])]])


def _nowhere() -> Vec3:
    where = np.full(3, np.nan)
    freeze(where)
    return where


def pair_cautions(report: PairReport) -> list[str]:
    """Say where a pair is badly reduced, or its fracture but partly seen.

    Parameters
    ----------
    report : PairReport
        The pair.

    Returns
    -------
    list of str
        One sentence each; empty for a well reduced pair.
    """
    who = pair_name(report.fragments)
    lines = []
    if report.overlap.depth > SAID_OVERLAP:
        lines.append(
            f"{who} overlap by up to {report.overlap.depth:.1f} mm at "
            f"{_place(report.overlap.where)}, {report.overlap.volume:.0f} mm³ in all: no bone can "
            "lie like that, check the reduction."
        )
    if report.gap.largest > SAID_GAP:
        lines.append(
            f"{who} lie {report.gap.mean:.1f} mm apart on average and {report.gap.largest:.1f} mm "
            f"at {_place(report.gap.where)}."
        )
    if report.step.largest > SAID_STEP:
        lines.append(
            f"{who} stand {report.step.mean:.1f} mm apart in height along the rim in the mean and "
            f"{report.step.largest:.1f} mm at {_place(report.step.where)}."
        )
    if report.rim_found < SAID_RIM:
        lines.append(
            f"Only {100 * report.rim_found:.0f} % of the rim between fragments "
            f"{report.fragments[0] + 1} and {report.fragments[1] + 1} lies at the outer surface of "
            "both: the fracture may be larger than what was found."
        )
    if report.islands:
        lines.append(
            f"{who}: {count_of(report.islands, 'small piece')} of facing surface, apart from the "
            "rest, did not count."
        )
    return lines


def _place(point: Vec3) -> str:
    return "({:.1f}, {:.1f}, {:.1f})".format(*point)
