"""The outlook of a plan: what it holds and presses, and how much error it forgives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import (
    Finding,
    Ruling,
    Verdict,
    aimed_slip,
    contact_share,
    doubts_of,
    head_pressure,
    holding,
    in_doubt,
    opening,
    slip,
)
from trajplan.planner._outlook_hands import ByHands, hand_finding, try_hands
from trajplan.planner._outlook_surfaces import Opening, open_by_load, where_of
from trajplan.planner._pressing import Pressing, friction_range, press
from trajplan.planner._rivals import hands_of, scatter_of
from trajplan.planner._strength import ScrewForces, forces_of, turns_of
from trajplan.tolerance import Forgiveness, forgiving
from trajplan.trajectory import Technique

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.mechanics import Turns
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Trajectories

__all__ = ["Outlook", "outlook"]


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Forces, contact and placement error of the screws of a plan."""

    forces: ScrewForces
    pressing: Pressing | None  # None where the screws are not meant to stand together
    forgiveness: Forgiveness | None  # None likewise, and where it was not worked out
    by_hands: ByHands | None  # None likewise, and where the case asks for no draws
    opening: Opening | None  # None where the case names no load
    turns: Turns | None = None  # hold turn by turn, where a CT shows the bone
    middle: float = np.nan  # N, what the middle candidate holds there

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
        lag = hit & (screws.technique != Technique.POSITION) & ~screws.seats.plated
        use = forces.bearing.use
        dims = screws.dims
        stocked = np.array([kind.washer is not None for kind in dims.kinds])[dims.kind]
        rulings = [
            holding(
                forces.holding.low,
                forces.holding.estimate,
                forces.aimed.estimate,
                hit,
                setup.limits,
            ),
            head_pressure(use, lag, screws.washered, stocked, screws.seats.countersink > 0.0),
        ]
        return in_doubt(rulings, doubts_of(screws, screws.seats.known))

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
        if self.pressing is None or not (lag.any() or self.opening):
            return ()
        return (
            *(_together(setup, self.pressing) if lag.any() else ()),
            *([] if self.opening is None else [_beside_plates(setup, _by_load(self.opening))]),
            *([] if self.by_hands is None else [hand_finding(self.by_hands, setup.limits)]),
        )


def _together(setup: Setup, found: Pressing) -> tuple[Finding, Finding]:
    """Whether the fragments slide, and over how much of the fracture they are pressed."""
    friction = friction_range(setup.limits)
    weak, pressed = found.slipping, [s for s in found.surfaces if len(s.screws)]
    if found.reserve_low >= 1.0:  # nothing slides; say where it is the bends that stop it
        weak = next((s for s in pressed if s.bends), weak)
    apart = next((s for s in pressed if s.apart), None)
    least = min(found.surfaces, key=lambda s: s.share, default=None)
    named = least if apart is None else apart
    return (
        aimed_slip(
            slip(
                found.reserve_low,
                found.reserve_low * friction.estimate / friction.low,
                where="" if weak is None else where_of(setup, weak.zones),
                bends=weak is not None and weak.bends,
            ),
            setup.around.aim,
        ),
        contact_share(
            found.share,
            found.peak,
            setup.limits,
            solved=found.solved,
            apart=found.apart,
            where="" if named is None else where_of(setup, named.zones),
            least=np.nan if least is None else least.share,
        ),
    )


def _by_load(found: Opening) -> Finding:
    load = found.load
    low, high = (np.nan, np.nan) if load is None else (load.low, load.high)
    return opening(low, high, least=found.least, where=found.where, why=found.why)


def _beside_plates(setup: Setup, finding: Finding) -> Finding:
    """What lag screws alone do not bear, a plate may: that is not worked out."""
    if not setup.case.plates or finding.verdict is not Verdict.FAIL:
        return finding
    return replace(
        finding,
        verdict=Verdict.UNKNOWN,
        why=f"{finding.why} What the plate bears of the load is not counted here, so whether both "
        "hold it together cannot be told.",
    )


def outlook(
    setup: Setup,
    screws: Trajectories,
    ids: tuple[str, ...],
    *,
    together: bool = True,
    placement: bool = True,
    middle: float = np.nan,
    progress: Callable[[int, int], None] | None = None,
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
    middle : float, N
        What the middle one of the candidates holds in the bone of a CT; NaN: none.
    progress : callable, optional
        Called with the axes drawn so far and all axes.

    Returns
    -------
    Outlook
    """
    forces = forces_of(setup, screws)
    if not together:
        return Outlook(forces, None, None, None, None, turns_of(setup, screws))
    hands, scatter = hands_of(setup, screws), scatter_of(setup)
    drawn = placement and scatter.draws and len(ids)
    pressing = press(screws, forces, setup.regions, friction_range(setup.limits))
    return Outlook(
        forces=forces,
        pressing=pressing,
        forgiveness=forgiving(hands, scatter) if placement else None,
        by_hands=try_hands(setup, hands, ids, scatter, progress) if drawn else None,
        opening=open_by_load(setup, screws, forces, pressing),
        turns=turns_of(setup, screws),
        middle=middle,
    )
