"""Rules on how a plate lies: fit, bends, what is below it and beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._plate_told import AO, WHEELESS, one_number
from trajplan.checks._types import Finding, Verdict

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.checks._limits import Limits

__all__ = [
    "BODY_CLEAR",
    "HANGS",
    "growth_plate_distance",
    "off_its_line",
    "plate_bend",
    "plate_clear",
    "plate_cuts",
    "plate_fit",
    "plate_meets_screw",
    "plate_on_bone",
    "side_open",
]

#: Per cent of the underside with no bone below.
HANGS = 25.0
#: mm between a plate and what stands out of the bone beside it.
BODY_CLEAR = 0.5
#: mm that a plate, bent to the bone, may lie off the place given for it.
OFF_LINE = 2.0
#: mm into bone: what periosteum and the rounding of a mesh give, and half as much again.
CUT_MOST = 0.3
_HEYWORTH = "Heyworth et al. 2013, J Bone Joint Surg Am 95:526 (abstract), children's distal femur"


def plate_fit(subject: str, gap: Floats, limits: Limits) -> Finding:
    """Whether a plate without fixed angles lies on the bone where its screws pull.

    Parameters
    ----------
    subject : str
        The plate.
    gap : (n,) float array, mm
        At each screw; NaN: no bone below.
    limits : Limits
        ``plate_fit``, mm.

    Returns
    -------
    Finding
        On the greatest gap.
    """
    return one_number(
        "plate_fit", subject, float(np.max(np.maximum(gap, 0.0), initial=0.0)), "mm",
        f"{AO}, dog humerus: contoured exactly; the limit is an assumption",
        {
            Verdict.PASS: "At its screws the plate stands no more than {measured} mm off the bone.",
            Verdict.UNKNOWN: "At one of its screws the plate has no bone below it.",
            Verdict.CAUTION: "At one of its screws the plate stands {measured} mm off the bone, "
            "and tightening it pulls the bone there, though it is bent as well as it can be: leave "
            "the hole empty, slide the plate, or choose one that bends further.",
        },
        caution_above=limits.plate_fit,
    )  # fmt: skip


def plate_bend(subject: str, flatwise: Floats, most: float | None, limits: Limits) -> Finding:
    """Whether a plate is bent more at one place than it bears.

    Parameters
    ----------
    subject : str
        The plate.
    flatwise : (b,) float array, degrees
        Of each bridge between holes.
    most : float or None, degrees
        What the plate's row allows; None: ``plate_bend``.
    limits : Limits
        ``plate_bend``, degrees.

    Returns
    -------
    Finding
    """
    return one_number(
        "plate_bend", subject, float(np.abs(flatwise).max(initial=0.0)), "degrees",
        f"{WHEELESS}, reconstruction plates; for other plates an assumption",
        {
            Verdict.PASS: "No bend between two holes is greater than {measured} degrees.",
            Verdict.FAIL: "A bend of {measured} degrees between two holes is more than the plate "
            "bears, {limit}: choose another place or a softer plate.",
        },
        fail_above=limits.plate_bend if most is None else most,
    )  # fmt: skip


def growth_plate_distance(subject: str, distance: float, limits: Limits) -> Finding:
    """Whether a plate ends far enough from a growth plate.

    Parameters
    ----------
    subject : str
        The plate.
    distance : float, mm
        From its end to the growth plate; NaN is unknown.
    limits : Limits
        ``growth_plate``, mm.

    Returns
    -------
    Finding
    """
    return one_number(
        "growth_plate_distance", subject, distance, "mm",
        _HEYWORTH,
        {
            Verdict.PASS: "The plate ends {measured} mm from the growth plate.",
            Verdict.UNKNOWN: "How far the plate ends from the growth plate cannot be told.",
            Verdict.CAUTION: "The plate ends {measured} mm from the growth plate; up to {limit} mm "
            "the bone may grow crooked: choose a shorter plate, or take it out early.",
        },
        caution_below=limits.growth_plate,
    )  # fmt: skip


def plate_on_bone(subject: str, share: float) -> Finding:
    """Whether a plate lies on bone from end to end.

    Parameters
    ----------
    subject : str
        The plate.
    share : float
        Share of its underside with no bone below.

    Returns
    -------
    Finding
    """
    return one_number(
        "plate_on_bone", subject, 100.0 * share, "%", "common practice; the limit is an assumption",
        {
            Verdict.PASS: "Bone lies below the whole plate, but for {measured} % of it.",
            Verdict.FAIL: "Under {measured} % of the plate there is no bone ({limit} is the most): "
            "choose a shorter plate, or slide it.",
        },
        fail_above=HANGS,
    )  # fmt: skip


def plate_meets_screw(subject: str, gap: float) -> Finding:
    """Whether a plate lies on the head, or on the tip, of a screw beside it.

    Parameters
    ----------
    subject : str
        The plate and the screw.
    gap : float, mm
        Between the two; NaN is unknown.

    Returns
    -------
    Finding
    """
    return one_number(
        "plate_meets_screw", subject, gap, "mm", "geometry; the least gap is an assumption",
        {
            Verdict.PASS: "The plate keeps {measured} mm from head and tip of the screw beside it.",
            Verdict.UNKNOWN: "Whether the plate meets the screw cannot be told.",
            Verdict.FAIL: "The plate meets the head or the tip of the screw beside it: slide the "
            "plate, or move the screw.",
        },
        fail_below=BODY_CLEAR,
    )  # fmt: skip


def side_open(subject: str) -> Finding:
    """Say that nobody told from which side the bone can be reached.

    Parameters
    ----------
    subject : str
        The plate.

    Returns
    -------
    Finding
        Always unknown.
    """
    return Finding(
        rule="plate_side", subject=subject, verdict=Verdict.UNKNOWN, measured=None, limit=None,
        unit="", source="the case",
        why="Whether the bone can be reached where the plate lies cannot be told: name its side in "
        "plate.side, or the open side in screws.approach.",
    )  # fmt: skip


def plate_clear(subject: str, joint: str, distance: float, clearance: float) -> Finding:
    """Whether a plate keeps away from a joint surface.

    Parameters
    ----------
    subject : str
        The plate.
    joint : str
        Name of the joint.
    distance : float, mm
        From its underside to the joint; NaN is unknown.
    clearance : float, mm
        That the joint asks for.

    Returns
    -------
    Finding
    """
    return one_number(
        "plate_clear", subject, distance, "mm", "the case",
        {
            Verdict.PASS: f"The plate keeps {{measured}} mm from {joint}.",
            Verdict.UNKNOWN: f"How far the plate lies from {joint} cannot be told.",
            Verdict.CAUTION: f"The plate comes within {{measured}} mm of {joint}, and {{limit}} "
            "are asked for: slide it, or decide that it may lie so near.",
        },
        caution_below=clearance,
    )  # fmt: skip


def off_its_line(subject: str, distance: float) -> Finding:
    """Whether a plate that is bent to the bone lies where the case puts it.

    Parameters
    ----------
    subject : str
        The plate.
    distance : float, mm
        Farthest of the points given from it.

    Returns
    -------
    Finding
    """
    return one_number(
        "plate_place", subject, distance, "mm", "the case; the limit is an assumption",
        {
            Verdict.PASS: "The plate lies within {measured} mm of the place that was given.",
            Verdict.CAUTION: "Bent to the bone the plate lies up to {measured} mm off the place "
            "that was given, more than {limit}: it cannot lie there, so look at where it does.",
        },
        caution_above=OFF_LINE,
    )  # fmt: skip


def plate_cuts(subject: str, depth: float) -> Finding:
    """Whether a plate, as it is bent, would have to cut into bone.

    Parameters
    ----------
    subject : str
        The plate.
    depth : float, mm
        Deepest place.

    Returns
    -------
    Finding
    """
    return one_number(
        "plate_cuts", subject, depth, "mm", "geometry; the limit is an assumption",
        {
            Verdict.PASS: "The plate lies on the bone, no deeper than {measured} mm into it.",
            Verdict.FAIL: "The plate would cut {measured} mm into bone as it is bent ({limit} is "
            "the most): choose another place.",
        },
        fail_above=CUT_MOST,
    )  # fmt: skip
