"""What the core of a screw bears while it is tightened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import CaseError
from trajplan.mechanics._range import METAL_FRICTION, Range, not_negative, positive
from trajplan.mechanics._torque import thread_torque, torque_per_force

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats
    from trajplan.mechanics._range import Friction

__all__ = ["CORE_STRENGTH", "breaking_torque", "core_limit", "core_stress"]

#: Tensile strength of a stainless core, MPa, derived: the least breaking torques of the
#: shallow threads (ISO 6475:1989, Annex A, from memory) on a fully plastic core give a
#: shear strength ``12 T / (π d³)`` of 490 to 635, times √3.
CORE_STRENGTH = (848.0, 1004.0, 1100.0)


def core_stress(
    force: ArrayLike,
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    friction: ArrayLike,
    flank_angle: float = 0.0,
) -> Floats:
    """Stress in the core of a screw that is being tightened.

    Parameters
    ----------
    force : (n,) float array, N
        Axial force.
    pitch, thread, core : (n,) float arrays, mm
        The thread.
    friction : (n,) float array
        Of thread on bone.
    flank_angle : float, degrees
        Angle of the pressing flank to the normal of the axis.

    Returns
    -------
    (n,) float array, MPa
        Equivalent stress of tension and torsion.

    Raises
    ------
    DegenerateError
        If a force is negative, or a dimension or friction not above zero.

    Notes
    -----
    The core yields throughout before it breaks: tension ``s = 4F/(π d²)``, torsion ``t = 12 T/(π
    d³)`` with the torque in the thread, both the same over the whole section, together ``√(s² + 3
    t²)`` (von Mises). These stresses balance force and torque and nowhere exceed the yield
    stress, so the core bears at least that (lower bound theorem of plasticity).
    """
    force, core = not_negative("force", force), positive("core", core)
    arm = thread_torque(pitch, thread, core, friction, flank_angle)
    tension = 4.0 * force / (np.pi * core**2)
    torsion = 12.0 * force * arm / (np.pi * core**3)
    stress: Floats = np.sqrt(tension**2 + 3.0 * torsion**2)
    return stress


def core_limit(
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    friction: Friction = METAL_FRICTION,
    strength: tuple[float, float, float] = CORE_STRENGTH,
) -> Range:
    """Axial force at which the core gives way while it is being tightened.

    Parameters
    ----------
    pitch, thread, core : (n,) float arrays, mm
        The thread.
    friction : Friction
        Of thread on bone; the most friction makes the least force.
    strength : tuple of three float, MPa
        Tensile strength of the metal, low, estimate and high.

    Returns
    -------
    Range
        N.

    Raises
    ------
    CaseError
        If the strengths are not above zero and in rising order.
    DegenerateError
        If a dimension is not above zero.
    """
    if not 0.0 < strength[0] <= strength[1] <= strength[2] < np.inf:
        raise CaseError(
            f"a core strength of {strength} MPa cannot be",
            remedy="give three numbers above 0, in rising order",
        )
    frictions = (friction.high, friction.estimate, friction.low)
    return Range(
        *(
            s / core_stress(1.0, pitch, thread, core, mu)
            for s, mu in zip(strength, frictions, strict=True)
        )
    )


def breaking_torque(
    pitch: ArrayLike,
    thread: ArrayLike,
    core: ArrayLike,
    head: ArrayLike,
    hole: ArrayLike,
    friction: Friction = METAL_FRICTION,
) -> Range:
    """Torque at the head at which the core of a screw that pulls gives way.

    Parameters
    ----------
    pitch, thread, core, head, hole : (n,) float arrays, mm
        As in `torque_per_force`.
    friction : Friction
        Of screw on bone.

    Returns
    -------
    Range
        N·mm; of a screw whose head turns on bone and whose thread is drawn tight, not of one
        clamped in a machine.

    Raises
    ------
    DegenerateError
        If a dimension is not above zero.
    """
    frictions = (friction.low, friction.estimate, friction.high)
    per_strength = [
        torque_per_force(pitch, thread, core, head, hole, mu)
        / core_stress(1.0, pitch, thread, core, mu)
        for mu in frictions
    ]
    low, estimate, high = CORE_STRENGTH
    return Range(
        low * np.minimum.reduce(per_strength),
        estimate * per_strength[1],
        high * np.maximum.reduce(per_strength),
    )
