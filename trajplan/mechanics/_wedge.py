"""What an eccentric screw's head does as it slides down the wall of its hole.

The head is a sphere on a slope at an angle `a` to the plate, drawn down by the screw's axial
force T. With friction of head on plate phi, it drives the plate along the fragment with
T tan(a - phi); the same T presses the plate on the bone that it must slide over, so
T (tan(a - phi) - mu) reaches the fracture (a wedge with friction, any handbook).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics._range import METAL_FRICTION, Friction, Range, not_negative

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats

__all__ = ["HEAD_FRICTION", "SQUEEZING_SCREWS", "axial_squeeze", "buttress_force", "wedge_share"]

#: Head of a screw on its plate, steel on steel (assumption: no printed number was found).
HEAD_FRICTION = Friction(0.15, 0.2, 0.3)
#: Eccentric screws after which it is rarely of use to put in another ("it is rarely necessary
#: for more than two screws to be loaded", Wheeless' Textbook of Orthopaedics, theory of
#: compression plates).
SQUEEZING_SCREWS = 2


def wedge_share(slope: float, head: float, bone: float) -> tuple[float, float]:
    """What a screw's axial force does along the plate.

    Parameters
    ----------
    slope : float, degrees
        Of the hole's wall, to the plate.
    head, bone : float
        Friction of the head on the plate, and of the plate on the bone.

    Returns
    -------
    drive, reaches : float
        Shares of the axial force that drive the plate, and that reach the fracture; neither
        is below 0: then nothing slides.
    """
    drive = float(np.tan(np.radians(slope) - np.arctan(head)))
    return max(drive, 0.0), max(drive - bone, 0.0)


def axial_squeeze(
    tension: Range,
    slope: float | None,
    *,
    shift: float | None,
    screws: int = 1,
    far_gap: ArrayLike = 0.0,
    head: Friction = HEAD_FRICTION,
    bone: Friction = METAL_FRICTION,
) -> Range:
    """Force with which eccentric screws press the fracture.

    Parameters
    ----------
    tension : Range
        Axial force of one eccentric screw, (n,) N.
    slope : float or None, degrees
        Of the hole's wall. None: no source names it, and the force is unknown.
    shift : float or None, mm
        Of the plate by one eccentric screw. None: whether a gap closes is unknown.
    screws : int
        Eccentric screws, one after the other; those past `SQUEEZING_SCREWS` count for nothing.
    far_gap : (n,) array_like, mm
        Gap at the far cortex before; NaN is unknown.
    head, bone : Friction
        Of the head on the plate, and of the plate on the bone.

    Returns
    -------
    Range
        (n,) N. Where a gap stands that the shift only just closes, or leaves open, 0: a gap
        of 1 mm at the far cortex "resulted in little or no fracture compression" (Mechanics of
        dynamic compression plate application, Clin Biomech 2024, abstract). Where the shift
        closes a smaller gap first, what is left cannot be told: the low end is 0, the estimate
        NaN.

    Notes
    -----
    Each further screw adds its own force at the most and nothing at the least: the first is
    loosened while it is tightened. Two screws pressed 2.3 times as much as one (Ferringo et
    al. 2023, PLoS One 18:e0286937, abstract), so the estimate is their sum.
    """
    low, middle, high = (
        np.atleast_1d(not_negative("tension", t))
        for t in (tension.low, tension.estimate, tension.high)
    )
    gap = np.broadcast_to(not_negative("far gap", far_gap), low.shape)
    if slope is None:
        nothing: Floats = np.full(low.shape, np.nan)
        return Range(nothing, nothing.copy(), nothing.copy())
    count = min(screws, SQUEEZING_SCREWS)
    least = low * wedge_share(slope, head.high, bone.high)[1] * min(count, 1)
    guess = middle * wedge_share(slope, head.estimate, bone.estimate)[1] * count
    most = high * wedge_share(slope, head.low, bone.low)[1] * count
    way = np.nan if shift is None else shift * count
    spent = gap >= way
    part = ~((gap == 0.0) | spent)  # also where gap or shift is unknown
    return Range(
        np.where(spent | part, 0.0, least),
        np.where(part, np.nan, np.where(spent, 0.0, guess)),
        np.where(spent, 0.0, most),
    )


def buttress_force(load: float, angle: float, friction: float) -> float:
    """Push of a buttress plate that keeps a split fragment from slipping.

    Parameters
    ----------
    load : float, N
        On the fragment, along the shaft.
    angle : float, degrees
        Of the fracture plane to the shaft, above 0 and below 90.
    friction : float
        Of the fragments.

    Returns
    -------
    float, N
        Square to the shaft, at the fragment's apex; 0 where friction alone holds it.
    """
    lean = np.radians(angle) + np.arctan(friction)
    return max(float(load / np.tan(lean)), 0.0)
