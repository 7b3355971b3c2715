"""Will it hold, will it press: the mechanics of a set of screws."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics import (
    BONE_FRICTION,
    Friction,
    Range,
    Region,
    bearing,
    clamp_load,
    contact_of,
    core_limit,
    footprint,
    preload,
    region_quadrature,
    slip_reserve,
    trajectory_holding,
)
from trajplan.trajectory import Technique

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.fracture import Zone
    from trajplan.mechanics import Bearing, BoneClass, ContactResult, Load
    from trajplan.trajectory import Trajectories

__all__ = ["Pressing", "ScrewForces", "fracture_regions", "friction_range", "press", "screw_forces"]

#: Points that a whole fracture is spread over: enough for the edge of the contact to be
#: found to about a per cent, few enough for a solution in a millisecond.
POINTS = 2500
#: Points to a square cell of a region: two triangles of three points each.
POINTS_A_CELL = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class ScrewForces:
    """Forces in ``n`` screws, N; NaN is unknown, and always for screws that do not press."""

    holding: Range  # pull-out of the thread beyond the fracture
    preload: Range  # what tightening leaves in a lag screw
    squeeze: Range  # along the fracture normal
    shear: Range  # across it
    bearing: Bearing  # of head or washer on the near fragment


@dataclass(frozen=True, slots=True, eq=False)
class Pressing:
    """How a set of lag screws presses a fracture together, at the estimated preload."""

    force: float  # N, along the normals; NaN where a preload is unknown
    area: float  # mm² in contact
    share: float  # of the whole fracture
    mean: float  # MPa over the contact
    peak: float  # MPa
    reserve_low: float  # friction over shear, least friction; below 1 the fragments slide
    reserve_high: float
    solved: bool  # every zone's contact was found
    apart: bool  # the pull lies outside some zone: nothing balances it, the fragments part
    contacts: tuple[ContactResult | None, ...]  # of each zone; None where no screw presses it

    @property
    def known(self) -> bool:
        """Whether there is anything to go by."""
        return bool(np.isfinite(self.force))


def fracture_regions(zones: Sequence[Zone]) -> tuple[Region, ...]:
    """Spread points over every zone of a fracture, by its share of the area.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of a fracture.

    Returns
    -------
    tuple of Region
    """
    size = float(np.sqrt(POINTS_A_CELL * sum(zone.area for zone in zones) / POINTS))
    return tuple(region_quadrature(zone, size) for zone in zones)


def friction_range(estimate: float) -> Friction:
    """Plausible range of friction between fragments round the setting of a case.

    Parameters
    ----------
    estimate : float
        The setting, above zero.

    Returns
    -------
    Friction
    """
    return Friction(min(estimate, BONE_FRICTION.low), estimate, max(estimate, BONE_FRICTION.high))


def screw_forces(screws: Trajectories, zones: Sequence[Zone], bone_class: BoneClass) -> ScrewForces:
    """Holding strength and forces of each screw.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    zones : sequence of Zone
        Zones of the fracture.
    bone_class : BoneClass
        What the bone is taken for.

    Returns
    -------
    ScrewForces
    """
    dims = screws.dims
    hold = trajectory_holding(screws, bone_class)
    presses = _presses(screws)
    core = core_limit(dims.pitch, dims.thread, dims.core)
    force = _only(preload(hold, core), presses)
    normals = np.array([zone.plane.normal for zone in zones])[screws.crossing.zone]
    cosine = np.abs(np.einsum("ij,ij->i", screws.corridors.axes.direction, normals))
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, 1.0))
    return ScrewForces(
        holding=_only(hold, screws.corridors.hit),
        preload=force,
        squeeze=_scaled(force, cosine),
        shear=_scaled(force, sine),
        bearing=_bearing(screws, force, bone_class),
    )


def _presses(screws: Trajectories) -> Bools:
    lag: Bools = (screws.technique != Technique.POSITION) & screws.crossing.inside
    return lag


def _only(values: Range, rows: Bools) -> Range:
    return Range(*(np.where(rows, v, np.nan) for v in (values.low, values.estimate, values.high)))


def _scaled(values: Range, factor: Floats) -> Range:
    return Range(values.low * factor, values.estimate * factor, values.high * factor)


def _bearing(screws: Trajectories, force: Range, bone_class: BoneClass) -> Bearing:
    """Pressure under the head, or under the washer, on the near fragment's bone."""
    dims = screws.dims
    hole = np.where(np.isfinite(screws.holes.gliding), screws.holes.gliding, dims.core)
    contact = np.clip(np.nan_to_num(screws.seats.rim_contact, nan=0.0), 0.0, 1.0)
    outer = np.where(screws.washered, screws.washer_diameter, dims.head)
    inner = np.where(screws.washered, screws.washer_hole, hole)
    area = footprint(outer, inner, contact)
    hard = bearing(force, area, bone_class.cortical.compression)
    soft = bearing(force, area, bone_class.cancellous.compression)
    return replace(
        hard,
        use=Range(
            *(
                np.where(dims.deep, a, b)
                for a, b in zip(_bounds(soft.use), _bounds(hard.use), strict=True)
            )
        ),
    )


def _bounds(values: Range) -> tuple[Floats, Floats, Floats]:
    return values.low, values.estimate, values.high


def press(
    screws: Trajectories,
    forces: ScrewForces,
    zones: Sequence[Zone],
    regions: Sequence[Region],
    friction: Friction,
) -> Pressing:
    """Press a fracture together with lag screws.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    forces : ScrewForces
        Their forces.
    zones : sequence of Zone
        Zones of the fracture.
    regions : sequence of Region
        The same, as from `fracture_regions`.
    friction : Friction
        Between the fragments.

    Returns
    -------
    Pressing
        Each zone is pressed by the screws that cross it: a rigid fragment on an elastic
        foundation, no tension. The weakest zone gives the slip reserve.
    """
    rows = np.flatnonzero(_presses(screws))
    force = forces.preload.estimate
    if len(rows) == 0 or not np.isfinite(force[rows]).all():
        return _unknown(len(zones))
    contacts: list[ContactResult | None] = []
    reserves: list[tuple[float, float]] = []
    total = 0.0
    for number, (zone, region) in enumerate(zip(zones, regions, strict=True)):
        mine = rows[screws.crossing.zone[rows] == number]
        if len(mine) == 0:
            contacts.append(None)
            continue
        load, reserve = _press_zone(screws, force, mine, zone, region, friction)
        contacts.append(reserve[0])
        reserves.append(reserve[1])
        total += abs(float(load.force @ zone.plane.normal))
    return _sum_up(contacts, reserves, total, regions)


def _press_zone(
    screws: Trajectories,
    force: Floats,
    rows: Ints,
    zone: Zone,
    region: Region,
    friction: Friction,
) -> tuple[Load, tuple[ContactResult, tuple[float, float]]]:
    direction = screws.corridors.axes.direction[rows]
    points = screws.corridors.axes.at(screws.crossing.axis)[rows]
    load = clamp_load(force[rows], direction, points, zone.plane.normal)
    contact = contact_of(region.points, region.normals, region.areas, load)
    pressing = contact.pressure * region.areas
    usable = contact.converged and bool(np.isfinite(pressing).all())
    found = slip_reserve(
        force[rows],
        direction,
        points,
        zone.plane.normal,
        friction=friction,
        bearing_points=region.points if usable else None,
        bearing_forces=pressing if usable else None,
    )
    return load, (contact, (found.low, found.high))


def _sum_up(
    contacts: list[ContactResult | None],
    reserves: list[tuple[float, float]],
    force: float,
    regions: Sequence[Region],
) -> Pressing:
    pressed = [contact for contact in contacts if contact is not None]
    area = float(sum(contact.area for contact in pressed))
    whole = float(sum(region.area for region in regions))
    return Pressing(
        force=force,
        area=area,
        share=area / whole,
        mean=force / area if area > 0.0 else np.nan,
        peak=max((contact.peak for contact in pressed), default=np.nan),
        reserve_low=min(low for low, _ in reserves),
        reserve_high=min(high for _, high in reserves),
        solved=all(contact.converged for contact in pressed),
        apart=any(not contact.balanced for contact in pressed),
        contacts=tuple(contacts),
    )


def _unknown(zones: int) -> Pressing:
    nan = float("nan")
    return Pressing(
        nan, nan, nan, nan, nan, nan, nan, solved=False, apart=False, contacts=(None,) * zones
    )
