"""The outlook of a plan: what it holds and presses, and how much error it forgives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Finding, Ruling, by_hand, contact_share, head_pressure, holding, slip
from trajplan.mechanics import clamp_load, opening_load, shaft_load
from trajplan.planner._rivals import hands_of, scatter_of
from trajplan.planner._strength import Pressing, ScrewForces, friction_range, press, screw_forces
from trajplan.tolerance import Chances, Forgiveness, forgiving, place
from trajplan.trajectory import Technique

if TYPE_CHECKING:
    from trajplan.mechanics import OpeningLoad
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["Outlook", "outlook"]


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Forces, contact and placement error of the screws of a plan."""

    forces: ScrewForces
    pressing: Pressing | None  # None where the screws are not meant to stand together
    forgiveness: Forgiveness | None  # None likewise, and where it was not worked out
    chances: Chances | None  # None likewise, and where the case asks for no draws
    opening: OpeningLoad | None  # None where the case names no load

    def rulings(self, screws: Trajectories, setup: Setup) -> list[Ruling]:
        """Judge the forces of each screw.

        Parameters
        ----------
        screws : Trajectories
            The screws.
        setup : Setup
            The case.

        Returns
        -------
        list of Ruling
        """
        hit, forces = screws.corridors.hit, self.forces
        lag = hit & (screws.technique != Technique.POSITION)
        use = forces.bearing.use
        return [
            holding(forces.holding.low, forces.holding.estimate, hit, setup.limits),
            head_pressure(use.estimate, use.high, lag),
        ]

    def findings(self, screws: Trajectories, setup: Setup) -> tuple[Finding, ...]:
        """Judge how the screws press together.

        Parameters
        ----------
        screws : Trajectories
            The screws.
        setup : Setup
            The case.

        Returns
        -------
        tuple of Finding
            None where no screw is a lag screw through the fracture.
        """
        lag = screws.crossing.inside & (screws.technique != Technique.POSITION)
        if not lag.any():
            return ()
        found = self.pressing
        if found is None:
            return ()
        return (
            slip(found.reserve_low, found.reserve_high),
            contact_share(
                found.share, found.peak, setup.limits, solved=found.solved, apart=found.apart
            ),
            *([] if self.chances is None else [by_hand(*_any(self.chances), setup.limits)]),
        )


def _any(chances: Chances) -> tuple[float, float]:
    """Interval of the chance that anything at all fails."""
    row, column = chances.subjects.index("plan"), chances.rules.index("any")
    return float(chances.low[row, column]), float(chances.high[row, column])


def outlook(
    setup: Setup,
    screws: Trajectories,
    ids: tuple[str, ...],
    *,
    together: bool = True,
    placement: bool = True,
) -> Outlook:
    """Work out what screws hold and press, and what they forgive.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        The screws.
    ids : tuple of str
        Their names.
    together : bool
        Whether they are meant to stand in the bone together; a long list of axes is not,
        and only its forces are worked out.
    placement : bool
        Whether placement error is worked out, which takes far longer than all the rest.

    Returns
    -------
    Outlook
    """
    zones = setup.around.zones
    forces = screw_forces(screws, zones, setup.bone_class)
    if not together:
        return Outlook(forces, None, None, None, None)
    friction = friction_range(setup.limits.friction)
    hands, scatter = hands_of(setup, screws), scatter_of(setup)
    drawn = placement and scatter.draws and len(ids)
    return Outlook(
        forces=forces,
        pressing=press(screws, forces, zones, setup.regions, friction),
        forgiveness=forgiving(hands, scatter) if placement else None,
        chances=place(hands, ids, scatter) if drawn else None,
        opening=_opening(setup, screws, forces),
    )


def _opening(setup: Setup, screws: Trajectories, forces: ScrewForces) -> OpeningLoad | None:
    """Load at which the first zone opens or slides, where the case names a load."""
    asked, shaft = setup.case.mechanics, setup.shaft
    if not (asked.axial or asked.bending or asked.torsion) or not shaft.found:
        return None
    zone, region = setup.around.zones[0], setup.regions[0]
    lag = screws.crossing.inside & (screws.technique != Technique.POSITION)
    rows = np.flatnonzero(lag & (screws.crossing.zone == 0))
    force = forces.preload.estimate[rows]
    if len(rows) == 0 or not np.isfinite(force).all():
        return None
    points = screws.corridors.axes.at(screws.crossing.axis)[rows]
    direction = screws.corridors.axes.direction[rows]
    clamp = clamp_load(force, direction, points, zone.plane.normal)
    load = shaft_load(
        shaft.direction,
        zone.plane.normal,
        zone.plane.point,
        axial=asked.axial,
        bending=asked.bending,
        bending_axis=asked.bending_axis,
        torsion=asked.torsion,
    )
    return opening_load(region, clamp, load, friction=friction_range(setup.limits.friction))
