"""Whether a shaft is broken straight across, where no lag screw can press it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.checks._types import LIMIT_SLACK, Finding, Verdict

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits

__all__ = ["transverse"]


def transverse(
    obliquity: float, limits: Limits, *, sure: bool = True, which: str = ""
) -> Finding | None:
    """Say that lag screws cannot press a shaft that is broken straight across, and what can.

    Parameters
    ----------
    obliquity : float, degrees
        Angle of the fracture to the cross-section of the shaft; of several zones, that of the
        one that is least across. NaN where the bone has no shaft.
    limits : Limits
        Below ``transverse`` a fracture is one across the shaft. Below the difference of
        ``along_angle`` and the tilt that is planned, no axis is both square enough to the
        fracture and across the shaft.
    sure : bool
        Whether the fracture is known to be one of a shaft; else it is but noted.
    which : str
        Between which fragments, where there are several fractures.

    Returns
    -------
    Finding or None
        For the plan as a whole; measures the obliquity. None for any other fracture.

    Notes
    -----
    The fracture normal stands ``obliquity`` off the shaft, so an axis within ``max_tilt`` of
    it stands at most ``obliquity + max_tilt`` off the shaft (triangle inequality for angles).

    References
    ----------
    .. [1] AO Foundation, online surgery reference, distal ulna, compression plate: into a
       transverse or very short oblique fracture no lag screw can be put; it is treated by
       axial compression, by eccentric screws in the plate.
    .. [2] AO Foundation, online surgery reference, femoral shaft (dog), 32-A2: oblique lines lie
       up to 60 degrees to the long axis, so 30 degrees and more to the cross-section.
    """
    if not obliquity < limits.transverse - LIMIT_SLACK:
        return None
    planned = limits.planned_tilt
    none = obliquity + planned < limits.along_angle - LIMIT_SLACK
    said = (
        f"The fracture{which} is transverse, {obliquity:.0f} degrees to the cross-section of the "
        f"shaft (oblique from {limits.transverse:.0f}): "
    )
    reason = (
        "no axis stands square to it that does not run along the shaft, so a lag screw cannot "
        "press it"
        if none
        else "an axis square to it runs nearly along the shaft, so a lag screw presses it badly"
    )
    answer = "The usual answer is axial compression by a plate."
    if not sure:
        verdict, reason = Verdict.NOTE, f"if this is a shaft, {reason}"
    elif none:
        verdict = Verdict.FAIL
    else:
        verdict = Verdict.CAUTION
        answer += " Decide on it, with or without these screws."
    return Finding(
        rule="transverse",
        subject="plan",
        verdict=verdict,
        measured=obliquity,
        limit=limits.transverse,
        unit="degrees",
        why=f"{said}{reason}. {answer}",
        source="AO Foundation, online surgery reference, distal ulna, compression plate, and "
        "femoral shaft (dog), 32-A2; along the shaft: assumption",
    )
