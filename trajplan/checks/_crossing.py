"""Whether the axis meets the bone, crosses the fracture, and stands square on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade
from trajplan.trajectory import Technique, surface_normals

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.checks._limits import Limits
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["crosses_fracture", "local_tilt", "meets_bone", "tilt"]


def meets_bone(screws: Trajectories, _limits: Limits) -> Ruling:
    """Fail an axis that misses the bone.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Applies to axes that miss; a screw in bone makes no finding.
    """
    missing = np.where(screws.corridors.hit, 1.0, 0.0)
    verdict, limit = grade(missing, fail_below=1.0, applies=~screws.corridors.hit)
    return Ruling(
        rule="meets_bone",
        verdict=verdict,
        measured=np.full(len(screws), np.nan),
        limit=np.full_like(limit, np.nan),
        unit="",
        source="geometry",
        sentences={
            Verdict.FAIL: "The axis misses the bone: check its points, their unit and frame."
        },
    )


def crosses_fracture(screws: Trajectories, _limits: Limits) -> Ruling:
    """Fail an axis that does not cross the fracture inside the bone.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Measures the depth of the crossing from the entry, mm.
    """
    crosses = screws.crossing.inside
    verdict, _ = grade(np.where(crosses, 1.0, 0.0), fail_below=1.0, applies=screws.corridors.hit)
    return Ruling(
        rule="crosses_fracture",
        verdict=verdict,
        measured=np.where(crosses, screws.crossing.axis, np.nan),
        limit=np.full(len(screws), np.nan),
        unit="mm",
        source="geometry",
        sentences={
            Verdict.PASS: "The axis crosses the fracture {measured} below the entry.",
            Verdict.FAIL: "The axis does not cross the fracture inside the bone: "
            "it holds one fragment only.",
        },
    )


def tilt(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge the angle between axis and the normal of the zone that it crosses.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``max_tilt`` cautions, the arctangent of ``friction`` fails.

    Returns
    -------
    Ruling
        Measures degrees. Does not apply to position screws, which do not press. Unknown
        where the bound on the fitted normal leaves room for a slide.

    Notes
    -----
    Coulomb friction holds while ``tan(tilt) <= friction`` (common practice).
    """
    lag = screws.technique != Technique.POSITION
    verdict, limit = grade(
        np.where(screws.corridors.hit, screws.crossing.tilt, np.nan),
        caution_above=limits.max_tilt,
        fail_above=limits.slip_angle,
        applies=screws.corridors.hit & lag,
        doubt=screws.crossing.tilt + screws.crossing.bound > limits.slip_angle,
    )
    return Ruling(
        rule="tilt",
        verdict=verdict,
        measured=screws.crossing.tilt,
        limit=limit,
        unit="degrees",
        source="fail: arctan of the friction setting (Coulomb friction); "
        "caution: Wheeless' Textbook of Orthopaedics, lag screw theory",
        sentences={
            Verdict.PASS: "The axis stands {measured} off the fracture normal, that of its zone's "
            "plane.",
            Verdict.CAUTION: "The axis stands {measured} off the fracture normal, that of its "
            "zone's plane, past the taught {limit}: the fragments may slide when squeezed. Hold "
            "them with forceps while tightening, or turn the axis.",
            Verdict.FAIL: "The axis stands {measured} off the fracture normal, that of its zone's "
            "plane: past {limit} the squeeze makes the fragments slide.",
            Verdict.UNKNOWN: "The axis seems to stand {measured} off the fracture normal, that of "
            "its zone's plane, but that normal is not known well enough to vouch for it.",
        },
    )


def local_tilt(screws: Trajectories, limits: Limits, zones: Sequence[Zone]) -> Ruling:
    """Judge the angle between axis and the fracture surface itself where the axis crosses it.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``max_tilt`` cautions, the arctangent of ``friction`` fails.
    zones : sequence of Zone
        Zones of the fracture.

    Returns
    -------
    Ruling
        Measures degrees to the area-weighted normal of the surface within two thread
        diameters (`local_normals`). Applies to lag screws that cross a fracture given by a
        surface; unknown where too little of it lies round the crossing. A plane has no other
        normal than its own, which `tilt` judges.
    """
    surfaced = np.array([zone.pieces is not None for zone in zones])[screws.crossing.zone]
    lag = screws.technique != Technique.POSITION
    normals = surface_normals(screws, zones)
    cosine = np.abs(np.einsum("ij,ij->i", screws.corridors.axes.direction, normals))
    measured = np.degrees(np.arccos(np.minimum(cosine, 1.0)))
    verdict, limit = grade(
        measured,
        caution_above=limits.max_tilt,
        fail_above=limits.slip_angle,
        applies=screws.crossing.inside & surfaced & lag,
    )
    return Ruling(
        rule="local_tilt",
        verdict=verdict,
        measured=measured,
        limit=limit,
        unit="degrees",
        source="fail: arctan of the friction setting (Coulomb friction); caution: Wheeless' "
        "Textbook of Orthopaedics, lag screw theory; reach of two thread diameters: assumption",
        sentences={
            Verdict.PASS: "The axis stands {measured} off the normal of the fracture surface "
            "round its crossing.",
            Verdict.CAUTION: "The axis stands {measured} off the normal of the fracture surface "
            "round its crossing, past the taught {limit}: the fragments may slide there when "
            "squeezed. Hold them with forceps while tightening, or turn the axis.",
            Verdict.FAIL: "The axis stands {measured} off the normal of the fracture surface "
            "round its crossing: past {limit} the squeeze makes the fragments slide there.",
            Verdict.UNKNOWN: "How square the axis stands on the fracture surface round its "
            "crossing cannot be told: too little of the surface lies there.",
        },
    )
