"""Whether the axis meets the bone, crosses the fracture, and stands square on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._aim import TO_FRACTURE, Aim
from trajplan.checks._types import LIMIT_SLACK, Ruling, Verdict, grade
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


def tilt(screws: Trajectories, limits: Limits, wanted: Aim = TO_FRACTURE) -> Ruling:
    """Judge the angle between axis and the normal of the zone that it crosses.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``max_tilt`` or the arctangent of ``friction`` cautions, that of ``friction_most`` fails.
    wanted : Aim
        Where the case aims the screws off the normal, ``aim_tilt`` fails instead, and a plate
        that holds what slides makes a note of the caution.

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
    note, caution, fail = _bounds(limits, wanted)
    verdict, limit = grade(
        np.where(screws.corridors.hit, screws.crossing.tilt, np.nan),
        note_above=note,
        caution_above=caution,
        fail_above=fail,
        applies=screws.corridors.hit & lag,
        doubt=screws.crossing.tilt + screws.crossing.bound > fail + LIMIT_SLACK,
    )
    return Ruling(
        rule="tilt",
        verdict=verdict,
        measured=screws.crossing.tilt,
        limit=limit,
        unit="degrees",
        source="fail: arctan of the greatest plausible friction (Coulomb friction); "
        "caution: Wheeless' Textbook of Orthopaedics, lag screw theory",
        sentences={
            Verdict.PASS: "The axis stands {measured} off the fracture normal, that of its zone's "
            "plane.",
            Verdict.CAUTION: "The axis stands {measured} off the fracture normal, that of its "
            "zone's plane, past the taught {limit}: the fragments may slide when compressed. Hold "
            "them with forceps while tightening, or turn the axis.",
            Verdict.FAIL: "The axis stands {measured} off the fracture normal, that of its zone's "
            "plane: past {limit} compression makes the fragments slide with any plausible "
            "friction.",
            **_slanted("off the fracture normal", wanted),
            Verdict.UNKNOWN: "The axis seems to stand {measured} off the fracture normal, that of "
            "its zone's plane, but that normal is not known well enough to vouch for it.",
        },
    )


def _bounds(limits: Limits, wanted: Aim) -> tuple[float | None, float | None, float]:
    """Tilts past which there is a note, a caution and a fail."""
    if not wanted.slanted:
        return None, limits.planned_tilt, limits.slide_angle
    fail, note = max(limits.aim_tilt, limits.slide_angle), limits.planned_tilt
    return (note, None, fail) if wanted.held else (None, note, fail)


def _slanted(off: str, wanted: Aim) -> dict[Verdict, str]:
    """What is said of a screw that stands off the normal because the case asks for it."""
    if not wanted.slanted:
        return {}
    said = (
        f"The axis stands {{measured}} {off}, as the case asks (screws.aim): it bears load along "
        "the shaft, but shears the fragments while it is tightened. Hold them with forceps until "
        "all screws are tight"
    )
    return {
        Verdict.NOTE: f"{said}; the plate holds them after.",
        Verdict.CAUTION: f"{said}, and decide what holds them after: a screw square to the "
        "fracture, or a plate (screws.protection).",
    }


def local_tilt(
    screws: Trajectories, limits: Limits, zones: Sequence[Zone], wanted: Aim = TO_FRACTURE
) -> Ruling:
    """Judge the angle between axis and the fracture surface itself where the axis crosses it.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``max_tilt`` or the arctangent of ``friction`` cautions, that of ``friction_most`` fails.
    zones : sequence of Zone
        Zones of the fracture.
    wanted : Aim
        As for `tilt`.

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
    note, caution, fail = _bounds(limits, wanted)
    verdict, limit = grade(
        measured,
        note_above=note,
        caution_above=caution,
        fail_above=fail,
        applies=screws.crossing.inside & surfaced & lag,
    )
    return Ruling(
        rule="local_tilt",
        verdict=verdict,
        measured=measured,
        limit=limit,
        unit="degrees",
        source="fail: arctan of the greatest plausible friction (Coulomb friction); caution: "
        "Wheeless' Textbook of Orthopaedics, lag screw theory; reach of two thread "
        "diameters: assumption",
        sentences={
            Verdict.PASS: "The axis stands {measured} off the normal of the fracture surface "
            "round its crossing.",
            Verdict.CAUTION: "The axis stands {measured} off the normal of the fracture surface "
            "round its crossing, past the taught {limit}: the fragments may slide there when "
            "compressed. Hold them with forceps while tightening, or turn the axis.",
            Verdict.FAIL: "The axis stands {measured} off the normal of the fracture surface "
            "round its crossing: past {limit} compression makes the fragments slide there "
            "with any plausible friction.",
            **_slanted("off the normal of the fracture surface round its crossing", wanted),
            Verdict.UNKNOWN: "How square the axis stands on the fracture surface round its "
            "crossing cannot be told: too little of the surface lies there.",
        },
    )
