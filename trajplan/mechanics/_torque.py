"""Torque and preload of a screw, and what strips its thread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics._range import METAL_FRICTION, Range, not_negative, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats
    from trajplan.mechanics._range import Friction

__all__ = [
    "HAND_TORQUE",
    "USEFUL_SHARE",
    "force_from_torque",
    "hand_torque",
    "preload",
    "stripping_torque",
    "thread_torque",
    "torque_per_force",
]

#: N·mm at which hands stop tightening a 3.5 mm cortical screw in a human humeral shaft (Aziz et
#: al. 2014, Proc Inst Mech Eng H 228:446, abstract), and that screw's core in mm (from memory).
HAND_TORQUE, HAND_CORE = 1312.0, 2.4
#: Range of that torque: surgeons stopped at 66 and at 86 % of what strips (Fletcher et al. 2020,
#: Clin Biomech 80; Cleek et al. 2007; abstracts), and at 82 % on average in the torque above.
HAND_SPREAD = (0.66 / 0.82, 1.0, 0.86 / 0.82)

#: Share of the stripping torque beyond which compression no longer grows (Fletcher et al.
#: 2019, Clin Biomech 70:40-45, abstract) and hold may fall (Cleek et al. 2007, abstract).
USEFUL_SHARE = 0.8


def torque_per_force(
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    head: ArrayLike,
    hole: ArrayLike,
    friction: ArrayLike,
    flank_angle: float = 0.0,
) -> Floats:
    """Torque at the head for each newton of axial force.

    Parameters
    ----------
    pitch, thread, core : (n,) float arrays, mm
        The thread.
    head, hole : (n,) float arrays, mm
        Outer and inner diameter of the contact under the head.
    friction : (n,) float array
        Coefficient of friction of thread and head.
    flank_angle : float, degrees
        Angle of the pressing flank to the normal of the axis.

    Returns
    -------
    (n,) float array, mm (that is N·mm/N)

    Raises
    ------
    DegenerateError
        If a dimension or friction is not above zero.

    Notes
    -----
    ``T/F = p/2π + μ r_t / cos β + μ r_h`` with the mean radii of thread and head contact
    (common practice, screw mechanics).
    """
    friction = positive("friction", friction)
    in_thread = thread_torque(pitch, thread, core, friction, flank_angle)
    under_head: Floats = (positive("head", head) + positive("hole", hole)) / 4.0
    torque: Floats = in_thread + friction * under_head
    return torque


def thread_torque(
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    friction: ArrayLike,
    flank_angle: float = 0.0,
) -> Floats:
    """Torque in the thread alone for each newton of axial force: the head's is left out.

    Parameters
    ----------
    pitch, thread, core, friction, flank_angle
        As in `torque_per_force`.

    Returns
    -------
    (n,) float array, mm

    Raises
    ------
    DegenerateError
        If a dimension or friction is not above zero.
    """
    friction = positive("friction", friction)
    radius = (positive("thread", thread) + positive("core", core)) / 4.0
    flank = np.cos(np.radians(flank_angle))
    torque: Floats = positive("pitch", pitch) / (2.0 * np.pi) + friction * radius / flank
    return torque


def hand_torque(core: ArrayLike) -> Range:
    """Torque that hands tighten a lag screw to in sound cortex.

    Parameters
    ----------
    core : (n,) float array, mm
        Core diameter.

    Returns
    -------
    Range
        N·mm.

    Raises
    ------
    DegenerateError
        If a core is not above zero.

    Notes
    -----
    As `HAND_TORQUE`, in proportion to the torque that the core bears, its cube (assumption:
    drivers are made for the screw, and hands for the driver). In soft bone hands stop sooner, by
    feel, at four fifths of what strips: `preload` caps the force by that share of the hold.
    """
    share = (positive("core", core) / HAND_CORE) ** 3
    return Range(*(HAND_TORQUE * factor * share for factor in HAND_SPREAD))


def force_from_torque(
    torque: Range | ArrayLike,
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    head: ArrayLike,
    hole: ArrayLike,
    friction: Friction = METAL_FRICTION,
) -> Range:
    """Axial force that a torque makes, over the range of friction.

    Parameters
    ----------
    torque : Range or (n,) float array, N·mm
        Torque at the head.
    pitch, thread, core, head, hole : (n,) float arrays, mm
        As in `torque_per_force`.
    friction : Friction
        Of screw on bone.

    Returns
    -------
    Range
        N; the most friction makes the least force.

    Raises
    ------
    DegenerateError
        If the torque is negative or a dimension not above zero.
    """
    given = torque if isinstance(torque, Range) else Range(*(np.asarray(torque),) * 3)
    screw = (pitch, thread, core, head, hole)
    bounds = (
        (given.low, friction.high),
        (given.estimate, friction.estimate),
        (given.high, friction.low),
    )
    return Range(
        *(not_negative("torque", value) / torque_per_force(*screw, mu) for value, mu in bounds)
    )


def stripping_torque(
    hold: Range,
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    head: ArrayLike,
    hole: ArrayLike,
    friction: Friction = METAL_FRICTION,
) -> Range:
    """Torque at which the axial force reaches the holding strength and the thread strips.

    Parameters
    ----------
    hold : Range
        Holding strength of ``n`` screws, N.
    pitch, thread, core, head, hole : (n,) float arrays, mm
        As in `torque_per_force`.
    friction : Friction
        Of screw on bone.

    Returns
    -------
    Range
        N·mm.

    Notes
    -----
    Turning adds shear in the thread that the pull-out formula does not know, so that real
    holes strip nearer to ``low``: the one measured case at hand (Aziz et al. 2014, 3.5 mm
    screws in human humeri, 1721 N·mm, abstract) lies there.
    """
    screw = (pitch, thread, core, head, hole)
    return Range(
        not_negative("holding", hold.low) * torque_per_force(*screw, friction.low),
        not_negative("holding", hold.estimate) * torque_per_force(*screw, friction.estimate),
        not_negative("holding", hold.high) * torque_per_force(*screw, friction.high),
    )


def preload(hold: Range, core: Range, aimed: Range, seat: Range | None = None) -> Range:
    """Force that tightening a lag screw leaves in it.

    Parameters
    ----------
    hold : Range
        Holding strength of ``n`` screws, N.
    core : Range
        Axial force that the core bears, N, as from `core_limit`.
    aimed : Range
        Force that the torque aimed at would make, N, as from `force_from_torque`.
    seat : Range, optional
        Force at which the bone under the head gives way, N, as from `seat_limit`: a head that
        sinks in holds that and no more (assumption). NaN limits nothing.

    Returns
    -------
    Range
        N: the force aimed at, no more than `USEFUL_SHARE` of the holding strength, no more
        than the core and the seat bear. NaN where the holding strength is unknown.

    Raises
    ------
    DegenerateError
        If a force is negative.
    """
    seats: tuple[Floats | float, ...] = (np.inf,) * 3
    if seat is not None:
        seats = (seat.low, seat.estimate, seat.high)
    goals = (aimed.low, aimed.estimate, aimed.high)
    holds = (hold.low, hold.estimate, hold.high)
    cores = (core.low, core.estimate, core.high)
    return Range(*(_pull(*bounds) for bounds in zip(goals, cores, holds, seats, strict=True)))


def _pull(aimed: ArrayLike, core: Floats, hold: Floats, seat: Floats | float) -> Floats:
    """Force aimed at, no more than anything bears; a seat that is NaN limits nothing."""
    screw = np.minimum(not_negative("force aimed at", aimed), not_negative("core limit", core))
    pull = np.minimum(screw, USEFUL_SHARE * not_negative("holding", hold))
    return np.where(seat < pull, seat, pull)
