"""The surfaces of a fracture: their names, the load that opens them, their file records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.files import SurfaceRecord, ZoneShareRecord
from trajplan.mechanics import OpeningLoad, opening_load, shaft_load
from trajplan.planner._pressing import clamp_of, friction_range

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.mechanics import Load, Region
    from trajplan.planner._pressing import Pressing, SurfacePressing
    from trajplan.planner._setup import Setup
    from trajplan.planner._strength import ScrewForces
    from trajplan.trajectory import Trajectories

__all__ = ["Opening", "open_by_load", "surface_records", "where_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """What the load of a case does to the surface that gives way first."""

    load: OpeningLoad | None  # None: cannot be told
    where: str  # which surface, for a sentence; empty where there is but one
    why: str  # why it cannot be told
    least: float = np.nan  # lowest factor, were all screws tightened to the low end of preload


def where_of(setup: Setup, zones: Sequence[int] | Ints) -> str:
    """Name a surface of the fracture for a sentence.

    Parameters
    ----------
    setup : Setup
        The case.
    zones : sequence of int
        Rows of its zones.

    Returns
    -------
    str
        Empty where the fracture is one surface.
    """
    if len(setup.regions) == 1:
        return ""
    first = setup.fracture.zones[int(zones[0])]
    if first.fragments is not None:
        one, other = (setup.fragment_names[body] for body in first.fragments)
        return f" between {one} and {other}"
    return f" at {', '.join(setup.fracture.zones[int(row)].id for row in zones)}"


def open_by_load(
    setup: Setup, screws: Trajectories, forces: ScrewForces, pressing: Pressing
) -> Opening | None:
    """Grow the load of the case until a surface opens or slides.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        The screws.
    forces : ScrewForces
        Their forces.
    pressing : Pressing
        How they press.

    Returns
    -------
    Opening or None
        None where the case names no load. Each surface is taken to bear all of the load
        alone, which is so where there is one, and severe where there are several; the least
        of each factor counts. Unknown where a surface has no lag screw.
    """
    asked = setup.case.mechanics
    if not (asked.axial or asked.bending or asked.torsion):
        return None
    untold = _untold(setup, pressing)
    if untold is not None:
        return untold
    parts = list(zip(setup.regions, pressing.surfaces, strict=True))
    names = [where_of(setup, region.zones) for region, _ in parts]
    found = [_opening_of(setup, screws, forces, region, surface) for region, surface in parts]
    for where, load in zip(names, found, strict=True):
        if np.isnan([load.gap, load.low, load.high]).any():
            return Opening(None, where, f"the contact{where} under the load was not found")
    weakest = names[int(np.argmin([load.low for load in found]))]
    ends = ("gap", "slip_low", "slip_estimate", "slip_high")
    least = OpeningLoad(*(min(getattr(load, end) for load in found) for end in ends))
    weak = min(
        _low_share(forces, surface) * load.low
        for (_, surface), load in zip(parts, found, strict=True)
    )
    return Opening(least, weakest, "", weak)


def _low_share(forces: ScrewForces, surface: SurfacePressing) -> float:
    """Least share of the estimated preload that the low end of a surface's screws is.

    Contact and friction grow in proportion to all forces, so the load that a fracture bears
    does too: exact if all screws are tightened to this share.
    """
    low, estimate = (end[surface.screws] for end in (forces.preload.low, forces.preload.estimate))
    return float(np.min(low / estimate))


def _untold(setup: Setup, pressing: Pressing) -> Opening | None:
    """Why nothing can be told, where nothing can."""
    if not setup.shaft.found:
        return Opening(None, "", f"the load runs along a shaft, and {_no_shaft(setup)}")
    if not pressing.known:
        return Opening(None, "", "no lag screw with a known force presses the fracture")
    for surface in pressing.surfaces:
        where = where_of(setup, surface.zones)
        if len(surface.screws) == 0:
            return Opening(None, where, f"no lag screw presses the fracture{where}")
        if not (surface.solved and surface.share > 0.0):
            return Opening(None, where, f"the screws alone do not hold the fracture{where} closed")
    return None


def _opening_of(
    setup: Setup,
    screws: Trajectories,
    forces: ScrewForces,
    region: Region,
    surface: SurfacePressing,
) -> OpeningLoad:
    """Load at which a surface opens further than the screws alone leave it, or slides."""
    return opening_load(
        region,
        clamp_of(screws, forces, surface.screws, region),
        _load_on(setup, region),
        friction=friction_range(setup.limits),
        share=min(surface.share, 1.0),
    )


def _no_shaft(setup: Setup) -> str:
    said = setup.shaft.caution.rstrip(".")
    return f"{said[0].lower()}{said[1:]}"


def _load_on(setup: Setup, region: Region) -> Load:
    asked, shaft = setup.case.mechanics, setup.shaft
    along = (region.centre - shaft.point) @ shaft.direction
    return shaft_load(
        shaft.direction,
        region.normal,
        shaft.point + along * shaft.direction,
        axial=asked.axial,
        bending=asked.bending,
        bending_axis=asked.bending_axis,
        torsion=asked.torsion,
    )


def surface_records(setup: Setup, pressing: Pressing) -> tuple[SurfaceRecord, ...]:
    """Turn the contact of each surface into its file record.

    Parameters
    ----------
    setup : Setup
        The case.
    pressing : Pressing
        How its fracture is pressed.

    Returns
    -------
    tuple of SurfaceRecord
    """
    return tuple(
        _record(setup, region, surface)
        for region, surface in zip(setup.regions, pressing.surfaces, strict=True)
    )


def _record(setup: Setup, region: Region, surface: SurfacePressing) -> SurfaceRecord:
    contact, zones = surface.contact, setup.fracture.zones
    bare = np.zeros(len(region.areas))
    pressure, gap = (bare, bare) if contact is None else (contact.pressure, contact.gap)
    return SurfaceRecord(
        zones=tuple(zones[int(row)].id for row in region.zones),
        fragments=tuple(
            setup.fragment_names[body] for body in zones[int(region.zones[0])].fragments or ()
        ),
        screws=len(surface.screws),
        force=surface.force,
        area=surface.area,
        share=surface.share,
        mean=surface.mean,
        peak=surface.peak,
        peak_at=_place(region, pressure),
        opens_at=_place(region, gap),
        slip_low=surface.reserve_low,
        slip_high=surface.reserve_high,
        bends=surface.bends,
        solved=surface.solved,
        by_zone=tuple(
            ZoneShareRecord(
                zone=zones[int(row)].id,
                share=_share(region, pressure, int(row)),
                peak=float(pressure[region.of_zone(int(row))].max()),
            )
            for row in region.zones
        ),
    )


def _place(region: Region, values: Floats) -> tuple[float, float, float] | None:
    """Where a value is greatest; None where it is nowhere above 0 or not known."""
    x, y, z = region.points[values.argmax()].tolist()
    return (x, y, z) if values.max() > 0.0 else None


def _share(region: Region, pressure: Floats, row: int) -> float:
    """Share of a zone in contact; NaN unknown."""
    own = region.of_zone(row)
    touching = np.where(np.isnan(pressure[own]), np.nan, pressure[own] > 0.0)
    return float(touching @ region.areas[own] / region.areas[own].sum())
