"""What each screw of a set holds, and the forces in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import taken
from trajplan.mechanics import (
    Friction,
    Range,
    bearing,
    breaking_torque,
    core_limit,
    measured_holding,
    measured_turns,
    preload,
    stripping_torque,
    trajectory_holding,
)
from trajplan.planner._head_limit import head_limit, ring_hole
from trajplan.planner._tightening import HANDS, N_MM, aimed_force
from trajplan.trajectory import Technique, head_footprint, surface_normals

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks import Surroundings
    from trajplan.mechanics import Bearing, BoneClass, Turns
    from trajplan.planner._setup import Setup
    from trajplan.planner._tightening import Tightening
    from trajplan.trajectory import Trajectories
    from trajplan.volume import BoneField

__all__ = [
    "ScrewForces",
    "forces_of",
    "holding_in",
    "presses",
    "quick_hold",
    "screw_forces",
    "turns_of",
]


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
    hold = holding_in(screws, bone_class, field)
    lag = presses(screws)
    core = core_limit(dims.pitch, dims.thread, dims.core, tightening.friction)
    plated = screws.seats.plated  # no bone lies under a head that rests in a plate
    area = np.where(plated, np.nan, head_footprint(around.bone, screws))
    seat = _without(head_limit(screws, area, bone_class, field), plated)
    aimed = aimed_force(_turned(screws), tightening)
    force = _only(preload(hold, core, aimed, seat), lag)
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
        bearing=bearing(_only(preload(hold, core, aimed), lag), area, seat),
    )


def holding_in(screws: Trajectories, bone_class: BoneClass, field: BoneField | None) -> Range:
    """What screws hold in the bone that a CT shows, or in that of a class.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    bone_class : BoneClass
        What the bone is taken for.
    field : BoneField or None
        What a CT says of the bone.

    Returns
    -------
    Range
        N.
    """
    if field is None:
        return trajectory_holding(screws, bone_class)
    return measured_holding(screws, field, bone_class)


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


def presses(screws: Trajectories) -> Bools:
    """Which screws press a fracture: lag screws that cross it.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    (n,) bool array
    """
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
