"""Whether lag screws will do without a plate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Verdict, grade

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits

__all__ = ["screws_alone"]

#: Screws that must hold a fracture alone: the published minimum.
LEAST_COUNT = 2


def screws_alone(length: float, diameter: float, count: int, limits: Limits) -> Finding:
    """Say whether lag screws may hold a shaft fracture alone.

    Parameters
    ----------
    length : float, mm
        Length of the fracture along the shaft; NaN where the bone has no shaft.
    diameter : float, mm
        Diameter of the shaft at the fracture; NaN likewise.
    count : int
        Lag screws in the plan that cross the fracture.
    limits : Limits
        ``alone_length``, in bone diameters, and ``alone_diameter``, mm.

    Returns
    -------
    Finding
        For the plan as a whole; measures the length in bone diameters. Never a failure:
        whether a plate is added is the surgeon's choice, but a caution says that it is
        usual. A long fracture of a large bone is cautioned too.

    References
    ----------
    .. [1] AO Foundation, online surgery reference, metacarpal shaft, oblique fracture: at
       least two screws and a fracture of twice the bone's diameter; else a plate.
    .. [2] Wheeless' Textbook of Orthopaedics, lag screw theory: two lag screws without a
       plate have failed in long bones.
    """
    ratio = length / diameter if diameter > 0.0 else np.nan
    verdict, _ = grade(np.array([ratio]), caution_below=limits.alone_length)
    word = Verdict(int(verdict[0]))
    if word is Verdict.PASS and (count < LEAST_COUNT or diameter >= limits.alone_diameter):
        word = Verdict.CAUTION
    return Finding(
        rule="screws_alone",
        subject="plan",
        verdict=word,
        measured=float(ratio) if np.isfinite(ratio) else None,
        limit=limits.alone_length,
        unit="bone diameters",
        why=_why(float(ratio), diameter, count, limits),
        source="AO Foundation, online surgery reference, metacarpal shaft, oblique; Wheeless' "
        "Textbook of Orthopaedics, lag screw theory",
    )


def _why(ratio: float, diameter: float, count: int, limits: Limits) -> str:
    if np.isnan(ratio):
        return (
            "Whether lag screws alone will do cannot be told: there is no shaft to measure the "
            "fracture against."
        )
    long = f"The fracture is {ratio:.1f} bone diameters long"
    plate = "lag screws alone are not enough: a protecting plate is the usual answer."
    if ratio < limits.alone_length:
        return f"{long}, less than {limits.alone_length:.1f}: {plate}"
    if count < LEAST_COUNT:
        screws = "one lag screw holds it" if count == 1 else "no lag screw holds it"
        return f"{long}, but {screws}: {plate}"
    if diameter >= limits.alone_diameter:
        return (
            f"{long}, but in a large long bone ({diameter:.0f} mm across) lag screws without a "
            "plate have failed: a protecting plate is usual all the same."
        )
    return f"{long}, with {count} lag screws: a fracture so long may be held by screws alone."
