"""What screws are tightened to: the torque of hands, and the friction that it works against."""

from __future__ import annotations

from dataclasses import dataclass

from trajplan.mechanics import METAL_FRICTION, Friction

__all__ = ["HANDS", "Tightening", "tightening_of"]


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
