"""Will it hold, will it press: the mechanics of a set of screws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import taken
from trajplan.mechanics import (
    BONE_FRICTION,
    Friction,
    Range,
    Region,
    bearing,
    breaking_torque,
    clamp_load,
    core_limit,
    measured_holding,
    measured_turns,
    preload,
    press_surface,
    stripping_torque,
    surface_regions,
    trajectory_holding,
)
from trajplan.planner._head_limit import head_limit, ring_hole
from trajplan.planner._tightening import HANDS, N_MM, aimed_force
from trajplan.trajectory import Technique, head_footprint, surface_normals

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks import Limits, Surroundings
    from trajplan.fracture import Zone
    from trajplan.mechanics import Bearing, BoneClass, ContactResult, Load, Turns
    from trajplan.planner._setup import Setup
    from trajplan.planner._tightening import Tightening
    from trajplan.trajectory import Trajectories
    from trajplan.volume import BoneField

__all__ = [
    "Pressing",
    "ScrewForces",
    "SurfacePressing",
    "clamp_of",
    "forces_of",
    "fracture_regions",
    "friction_range",
    "press",
    "quick_hold",
    "screw_forces",
    "turns_of",
]

#: Points that a whole fracture is spread over: enough for the edge of the contact to be
#: found to about a per cent, few enough for a solution in a millisecond.
POINTS = 2500
#: Points to a square cell of a region: two triangles of three points each.
POINTS_A_CELL = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class ScrewForces:
    """Forces in ``n`` screws, N; NaN is unknown, and where a screw has no such force."""

    holding: Range  # pull-out of the thread beyond the fracture
    aimed: Range  # what the torque would make that such a screw is tightened to in sound cortex
    preload: Range  # what tightening leaves in a lag screw; no more than the head's seat bears
    squeeze: Range  # along the normal of the fracture, of its surface where it has one
    shear: Range  # across it
    stripping: Range  # N·m at the head at which the thread strips, over friction of screw on bone
    breaking: Range  # N·m at the head at which the core gives way
    bearing: Bearing  # of head or washer on the near fragment, at the force before the seat caps it

    def take(self, rows: Ints) -> ScrewForces:
        """Forces in some of the screws.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take, in any order.

        Returns
        -------
        ScrewForces
        """
        return taken(self, rows)


@dataclass(frozen=True, slots=True, eq=False)
class SurfacePressing:
    """How lag screws press one surface between two fragments, at the estimated preload."""

    zones: Ints  # (z,) rows of the zones that it is made of
    screws: Ints  # (k,) rows of the lag screws that press it; none: it is not pressed
    force: float  # N, sum of its pressures; of the screws' squeeze where no pressures were found
    area: float  # mm² in contact, 0 where no screw presses it
    share: float  # of the surface
    mean: float  # MPa over the contact
    peak: float  # MPa
    reserve_low: float  # friction over shear, least friction; below 1 the fragments slide
    reserve_high: float
    bends: bool  # its bends bear what friction alone could not
    contact: ContactResult | None  # None where no screw presses it

    @property
    def solved(self) -> bool:
        """Whether the contact was found, or none was to be found."""
        return self.contact is None or self.contact.converged

    @property
    def apart(self) -> bool:
        """Whether the pull lies outside it: nothing balances it, the fragments part."""
        return self.contact is not None and not self.contact.balanced


@dataclass(frozen=True, slots=True, eq=False)
class Pressing:
    """How a set of lag screws presses a fracture together, at the estimated preload."""

    surfaces: tuple[SurfacePressing, ...]  # one for each region; empty where nothing is known
    share: float  # of the whole fracture in contact

    @property
    def known(self) -> bool:
        """Whether there is anything to go by."""
        return len(self.surfaces) > 0

    @property
    def solved(self) -> bool:
        """Whether the contact of every surface was found."""
        return self.known and all(surface.solved for surface in self.surfaces)

    @property
    def apart(self) -> bool:
        """Whether the fragments part somewhere."""
        return any(surface.apart for surface in self.surfaces)

    @property
    def force(self) -> float:
        """Force on all surfaces, N; NaN unknown."""
        return float(sum(s.force for s in self.surfaces)) if self.known else np.nan

    @property
    def area(self) -> float:
        """Area in contact, mm²; NaN unknown."""
        return float(sum(s.area for s in self.surfaces)) if self.known else np.nan

    @property
    def mean(self) -> float:
        """Mean pressure over the contact, MPa; NaN unknown."""
        return self.force / self.area if self.area > 0.0 else np.nan

    @property
    def peak(self) -> float:
        """Highest pressure, MPa; NaN unknown."""
        peaks = [surface.peak for surface in self.surfaces if len(surface.screws)]
        return float(np.max(peaks)) if peaks else np.nan

    @property
    def slipping(self) -> SurfacePressing | None:
        """The pressed surface with the least reserve against sliding; None: nothing is known."""
        pressed = [surface for surface in self.surfaces if len(surface.screws)]
        return min(pressed, key=lambda s: _nan_first(s.reserve_low), default=None)

    @property
    def reserve_low(self) -> float:
        """Least slip reserve of any surface, with the least friction; NaN unknown."""
        return np.nan if self.slipping is None else self.slipping.reserve_low

    @property
    def reserve_high(self) -> float:
        """The same with the most friction."""
        return np.nan if self.slipping is None else self.slipping.reserve_high


def _nan_first(value: float) -> float:
    return -np.inf if np.isnan(value) else value


def fracture_regions(zones: Sequence[Zone]) -> tuple[Region, ...]:
    """Spread points over a fracture: one region for each surface between two fragments.

    Parameters
    ----------
    zones : sequence of Zone
        Zones of a fracture.

    Returns
    -------
    tuple of Region
    """
    size = float(np.sqrt(POINTS_A_CELL * sum(zone.area for zone in zones) / POINTS))
    return surface_regions(zones, size)


def friction_range(limits: Limits) -> Friction:
    """Plausible range of friction between fragments round the setting of a case.

    Parameters
    ----------
    limits : Limits
        ``friction`` and ``friction_most``.

    Returns
    -------
    Friction
    """
    estimate = limits.friction
    return Friction(min(estimate, BONE_FRICTION.low), estimate, max(estimate, limits.friction_most))


def screw_forces(
    screws: Trajectories,
    around: Surroundings,
    bone_class: BoneClass,
    tightening: Tightening = HANDS,
    field: BoneField | None = None,
) -> ScrewForces:
    """Holding strength and forces of each screw.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    around : Surroundings
        Bone and fracture.
    bone_class : BoneClass
        What the bone is taken for.
    tightening : Tightening
        What the screws are tightened to.
    field : BoneField, optional
        What a CT says of the bone.

    Returns
    -------
    ScrewForces
    """
    dims = screws.dims
    hold = (
        trajectory_holding(screws, bone_class)
        if field is None
        else measured_holding(screws, field, bone_class)
    )
    presses = _presses(screws)
    core = core_limit(dims.pitch, dims.thread, dims.core, tightening.friction)
    plated = screws.seats.plated  # no bone lies under a head that rests in a plate
    area = np.where(plated, np.nan, head_footprint(around.bone, screws))
    seat = _without(head_limit(screws, area, bone_class, field), plated)
    aimed = aimed_force(_turned(screws), tightening)
    force = _only(preload(hold, core, aimed, seat), presses)
    strips, breaks = _torques(screws, hold, tightening.friction)
    flat = np.array([zone.plane.normal for zone in around.zones])[screws.crossing.zone]
    local = surface_normals(screws, around.zones)
    normals = np.where(np.isnan(local), flat, local)
    cosine = np.abs(np.einsum("ij,ij->i", screws.corridors.axes.direction, normals))
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, 1.0))
    return ScrewForces(
        holding=_only(hold, screws.corridors.hit),
        aimed=aimed,
        preload=force,
        squeeze=_scaled(force, cosine),
        shear=_scaled(force, sine),
        stripping=strips,
        breaking=breaks,
        bearing=bearing(_only(preload(hold, core, aimed), presses), area, seat),
    )


def forces_of(setup: Setup, screws: Trajectories) -> ScrewForces:
    """Holding strength and forces of screws in the bone of a case.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    ScrewForces
    """
    return screw_forces(
        screws, setup.around, setup.bone_class, setup.tightening, setup.settings.field
    )


def quick_hold(setup: Setup, screws: Trajectories, rows: Ints) -> Floats | None:
    """What candidates hold in the bone that a CT shows, at a coarser look.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        ``n`` screws.
    rows : (m,) int array
        Those that are asked for.

    Returns
    -------
    (n,) float array or None, N
        NaN in other rows; None without a CT.
    """
    field = setup.settings.field
    if field is None:
        return None
    hold = np.full(len(screws), np.nan)
    some = screws.take(rows)
    hold[rows] = measured_holding(some, field, setup.bone_class, quick=True).estimate
    return hold


def turns_of(setup: Setup, screws: Trajectories) -> Turns | None:
    """Hold of screws turn by turn, where a CT shows the bone.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Turns or None
    """
    field = setup.settings.field
    return None if field is None else measured_turns(screws, field, setup.bone_class)


def _presses(screws: Trajectories) -> Bools:
    lag: Bools = (screws.technique != Technique.POSITION) & screws.crossing.inside
    return lag


def _only(values: Range, rows: Bools) -> Range:
    return Range(*(np.where(rows, v, np.nan) for v in (values.low, values.estimate, values.high)))


def _without(limit: Range, rows: Bools) -> Range:
    """A limit that some rows do not have."""
    return Range(*(np.where(rows, np.inf, v) for v in (limit.low, limit.estimate, limit.high)))


def _scaled(values: Range, factor: Floats) -> Range:
    return Range(values.low * factor, values.estimate * factor, values.high * factor)


def _turned(screws: Trajectories) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Pitch, thread, core, and the outer and inner diameter of what turns on the bone, mm."""
    dims = screws.dims
    return dims.pitch, dims.thread, dims.core, dims.head, ring_hole(screws)


def _torques(screws: Trajectories, hold: Range, friction: Friction) -> tuple[Range, Range]:
    """Torques at the head at which the thread strips and the core gives way, N·m."""
    screw, hit, metre = _turned(screws), screws.corridors.hit, np.asarray(1.0 / N_MM)
    strips = stripping_torque(hold, *screw, friction)
    breaks = breaking_torque(*screw, friction)
    return _only(_scaled(strips, metre), hit), _only(_scaled(breaks, metre), hit)


def press(
    screws: Trajectories, forces: ScrewForces, regions: Sequence[Region], friction: Friction
) -> Pressing:
    """Press a fracture together with lag screws.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    forces : ScrewForces
        Their forces.
    regions : sequence of Region
        The fracture, as from `fracture_regions`.
    friction : Friction
        Between the fragments.

    Returns
    -------
    Pressing
        Each surface is pressed by all lag screws that cross any zone of it: one rigid
        fragment on an elastic foundation, no tension. Nothing is known where a preload is
        not, or where no screw presses.
    """
    rows = np.flatnonzero(_presses(screws))
    if len(rows) == 0 or not np.isfinite(forces.preload.estimate[rows]).all():
        return Pressing((), np.nan)
    zone = screws.crossing.zone[rows]
    surfaces = tuple(
        _press_surface(screws, forces, rows[np.isin(zone, region.zones)], region, friction)
        for region in regions
    )
    whole = sum(region.area for region in regions)
    return Pressing(surfaces, float(sum(surface.area for surface in surfaces)) / whole)


def clamp_of(screws: Trajectories, forces: ScrewForces, rows: Ints, region: Region) -> Load:
    """Sum of the estimated preloads of lag screws on the near fragment of a surface.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    forces : ScrewForces
        Their forces.
    rows : (k,) int array
        Screws that cross the surface, at least one.
    region : Region
        The surface.

    Returns
    -------
    Load
    """
    axes, crossing = screws.corridors.axes, screws.crossing
    return clamp_load(
        forces.preload.estimate[rows],
        axes.direction[rows],
        axes.at(crossing.axis)[rows],
        region.facing_of(crossing.zone[rows]),
    )


def _press_surface(
    screws: Trajectories, forces: ScrewForces, rows: Ints, region: Region, friction: Friction
) -> SurfacePressing:
    nan = float("nan")
    if len(rows) == 0:
        return SurfacePressing(
            region.zones, rows, 0.0, 0.0, 0.0, nan, nan, nan, nan, bends=False, contact=None
        )
    found = press_surface(region, clamp_of(screws, forces, rows, region), friction.low)
    contact = found.contact
    pressed = float(contact.pressure @ region.areas)
    return SurfacePressing(
        zones=region.zones,
        screws=rows,
        force=pressed if contact.converged else float(forces.squeeze.estimate[rows].sum()),
        area=contact.area,
        share=contact.share,
        mean=contact.mean,
        peak=contact.peak,
        reserve_low=friction.low * found.limit,
        reserve_high=friction.high * found.limit,
        bends=found.bends,
        contact=contact,
    )
