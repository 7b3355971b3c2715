"""Turn a fracture into its file record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.files import (
    DECIMALS,
    FitRecord,
    FractureRecord,
    OffsetRecord,
    ShaftRecord,
    ZoneRecord,
)
from trajplan.fracture import fracture_length, obliquity

if TYPE_CHECKING:
    from trajplan.bone import ShaftAxis
    from trajplan.fracture import Offset, PairReport, Zone
    from trajplan.planner._setup import Setup

__all__ = ["fracture_record"]


def fracture_record(setup: Setup) -> FractureRecord:
    """Turn the fracture of a case into the record that a plan file holds.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    FractureRecord
    """
    fracture, names = setup.fracture, setup.fragment_names
    return FractureRecord(
        source=fracture.source,
        zones=tuple(_zone(zone, setup.shaft, names) for zone in fracture.zones),
        fits=tuple(_fit(report, names) for report in fracture.reports),
        shaft=_shaft(setup) if setup.shaft.found else None,
    )


#: Degrees by which a normal may turn when its three numbers are rounded for the file: each by
#: half of the last of `DECIMALS`. A fit to a flat surface is surer than that.
NORMAL_ROUNDED = float(np.degrees(np.sqrt(3.0) * 0.5 * 10.0**-DECIMALS))


def _zone(zone: Zone, shaft: ShaftAxis, names: tuple[str, ...]) -> ZoneRecord:
    fit = zone.fit
    return ZoneRecord(
        id=zone.id,
        point=tuple(zone.plane.point.tolist()),
        normal=tuple(zone.plane.normal.tolist()),
        area=zone.area,
        rms=fit.rms,
        largest=fit.largest,
        normal_bound=fit.normal_bound + NORMAL_ROUNDED,
        extents=(float(fit.extents[0]), float(fit.extents[1])),
        flatness=fit.flatness,
        obliquity=obliquity(zone, shaft),
        fragments=tuple(names[body] for body in zone.fragments or ()),
    )


def _fit(report: PairReport, names: tuple[str, ...]) -> FitRecord:
    first, second = report.fragments
    return FitRecord(
        fragments=(names[first], names[second]),
        zones=report.zones,
        area=report.area,
        gap=_offset(report.gap),
        step=_offset(report.step),
        rim_found=report.rim_found,
        overlap_volume=report.overlap.volume,
        overlap_depth=report.overlap.depth,
        turn=report.turn.angle,
        turn_blind=report.turn.blind,
    )


def _offset(offset: Offset) -> OffsetRecord:
    return OffsetRecord.model_validate(
        {
            "mean": offset.mean,
            "largest": offset.largest,
            "where": offset.where,
            "wide": offset.wide,
        }
    )


def _shaft(setup: Setup) -> ShaftRecord:
    shaft = setup.shaft
    found = fracture_length(setup.fracture.zones, shaft)
    return ShaftRecord(
        point=tuple(shaft.point.tolist()),
        direction=tuple(shaft.direction.tolist()),
        diameter=shaft.diameter,
        fracture_length=found.length,
        fracture_ratio=found.length / found.diameter if found.diameter else None,
    )
