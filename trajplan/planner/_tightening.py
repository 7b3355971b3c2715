"""What screws are tightened to: the torque of hands, and the friction that it works against."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.mechanics import (
    METAL_FRICTION,
    Friction,
    force_from_torque,
    hand_torque,
    shear_area,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from trajplan.checks import Limits
    from trajplan.implants import Screw
    from trajplan.mechanics import BoneClass, Range

__all__ = ["HANDS", "Tightening", "aimed_force", "tightening_of", "turns_to_hold"]

#: N·mm in a newton metre.
N_MM = 1000.0


@dataclass(frozen=True, slots=True)
class Tightening:
    """What screws are tightened to."""

    torque: float | None  # N·m, the same for all; None: what hands use for the screw's core
    friction: Friction  # of screw on bone, thread and head alike


#: What hands do where a case says nothing.
HANDS = Tightening(None, METAL_FRICTION)


def tightening_of(torque: float | None, friction: float | None) -> Tightening:
    """What a case says of tightening.

    Parameters
    ----------
    torque : float or None, N·m
        Torque aimed at; None: what hands use for the screw.
    friction : float or None
        Of screw on bone; None: the published range.

    Returns
    -------
    Tightening
        With the plausible range of friction round the setting.
    """
    mu = METAL_FRICTION.estimate if friction is None else friction
    return Tightening(
        torque, Friction(min(mu, METAL_FRICTION.low), mu, max(mu, METAL_FRICTION.high))
    )


def aimed_force(
    screw: tuple[ArrayLike, ArrayLike, ArrayLike, ArrayLike, ArrayLike], tightening: Tightening
) -> Range:
    """Axial force that the torque aimed at makes in screws.

    Parameters
    ----------
    screw : tuple of five (n,) float arrays, mm
        Pitch, thread, core, head and hole, as in `trajplan.mechanics.torque_per_force`.
    tightening : Tightening
        What they are tightened to.

    Returns
    -------
    Range
        N.
    """
    given = tightening.torque
    torque = hand_torque(screw[2]) if given is None else N_MM * given
    return force_from_torque(torque, *screw, tightening.friction)


def turns_to_hold(
    kinds: Sequence[Screw], bone_class: BoneClass, limits: Limits, tightening: Tightening
) -> float:
    """Turns of thread in cancellous bone that hold what the screws of a case must.

    Parameters
    ----------
    kinds : sequence of Screw
        Kinds of the case.
    bone_class : BoneClass
        What the bone is taken for.
    limits : Limits
        ``holding``, of the force that a screw is tightened to.
    tightening : Tightening
        What it is tightened to.

    Returns
    -------
    float
        At the estimate, of the kind with a deep thread that needs most; 0 where there is none, and
        where no strength is known. So a blind screw takes the longer thread in poor bone (common
        practice).
    """
    soft = bone_class.cancellous.shear
    if soft is None:
        return 0.0
    turns = [0.0]
    for kind in (kind for kind in kinds if kind.thread == "deep"):
        size = (kind.thread_diameter, kind.core_diameter, kind.pitch)
        screw = (kind.pitch, *size[:2], kind.head_diameter, kind.thread_diameter)
        need = limits.holding * float(aimed_force(screw, tightening).estimate)
        turns.append(need / (float(shear_area(*size)) * soft.estimate * kind.pitch))
    return max(turns)
