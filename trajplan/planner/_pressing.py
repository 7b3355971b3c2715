"""How a set of lag screws presses a fracture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics import (
    BONE_FRICTION,
    Friction,
    Region,
    clamp_load,
    press_surface,
    surface_regions,
)
from trajplan.planner._strength import presses

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Ints
    from trajplan.checks import Limits
    from trajplan.fracture import Zone
    from trajplan.mechanics import ContactResult, Load
    from trajplan.planner._strength import ScrewForces
    from trajplan.trajectory import Trajectories

__all__ = [
    "Pressing",
    "SurfacePressing",
    "clamp_of",
    "fracture_regions",
    "friction_range",
    "press",
]

#: Points that a whole fracture is spread over: enough for the edge of the contact to be
#: found to about a per cent, few enough for a solution in a millisecond.
POINTS = 2500
#: Points to a square cell of a region: two triangles of three points each.
POINTS_A_CELL = 6.0


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
    rows = np.flatnonzero(presses(screws))
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
