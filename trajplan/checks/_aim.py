"""Screws that a case aims elsewhere than square to the fracture, so that they bear load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.checks._limits import Limits
    from trajplan.checks._types import Finding
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["TO_FRACTURE", "Aim", "aim", "aimed_slip"]

#: Sine of the angle between a fracture normal and the shaft below which the bone has no one
#: normal there: the fracture lies straight across.
ACROSS = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """What screws are to stand square to."""

    word: str = "to the fracture"  # or "between", or "to the bone"
    shaft: Vec3 | None = None  # (3,) unit, along the bone; None: not needed
    held: bool = False  # a plate, as the case says, holds what the slant makes slide

    @property
    def slanted(self) -> bool:
        """Whether screws are asked to stand off the fracture normal."""
        return self.word != "to the fracture" and self.shaft is not None

    def directions(self, normals: Vec3s) -> Vec3s:
        """Directions that are aimed at.

        Parameters
        ----------
        normals : (n, 3) float array
            Unit normals of the fracture.

        Returns
        -------
        (n, 3) float array
            Unit vectors on the same side: the normal itself; the bone's normal, which is the
            fracture's with what runs along the shaft taken off; or the bisector of the two.
            Of a fracture straight across the shaft the normal, for want of another.
        """
        if self.shaft is None or not self.slanted:
            return normals
        flat = normals - (normals @ self.shaft)[:, None] * self.shaft
        length = np.linalg.norm(flat, axis=1, keepdims=True)
        bone = np.where(length > ACROSS, flat / np.where(length > ACROSS, length, 1.0), normals)
        middle = bone if self.word == "to the bone" else bone + normals
        unit: Vec3s = middle / np.linalg.norm(middle, axis=1, keepdims=True)
        return unit


#: As screws are aimed where a case says nothing else.
TO_FRACTURE = Aim()


def aim(screws: Trajectories, limits: Limits, zones: Sequence[Zone], wanted: Aim) -> Ruling:
    """Judge how near an axis comes to the direction that the case aims at.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``max_tilt`` cautions, degrees.
    zones : sequence of Zone
        Zones of the fracture.
    wanted : Aim
        A slanted one.

    Returns
    -------
    Ruling
        Measures degrees.
    """
    normals = np.array([zone.plane.normal for zone in zones])[screws.crossing.zone]
    target = wanted.directions(normals)
    cosine = np.abs(np.einsum("ij,ij->i", screws.corridors.axes.direction, target))
    off = np.degrees(np.arccos(np.clip(cosine, 0.0, 1.0)))
    verdict, limit = grade(off, caution_above=limits.max_tilt, applies=screws.corridors.hit)
    what = (
        "midway between the normals of fracture and bone"
        if wanted.word == "between"
        else "square to the bone"
    )
    return Ruling(
        rule="aim",
        verdict=verdict,
        measured=off,
        limit=limit,
        unit="degrees",
        source="the case; midway in the shaft: AO manual of internal fixation, 3rd ed., 1991 "
        "(not verified against the source)",
        sentences={
            Verdict.PASS: f"The axis stands {{measured}} off the direction aimed at, {what}.",
            Verdict.CAUTION: "The axis stands {measured} off the direction that the case aims at "
            "(screws.aim), past {limit}. Decide which of the two is meant.",
        },
    )


def aimed_slip(found: Finding, wanted: Aim) -> Finding:
    """Say of fragments that slide because the screws are aimed off the normal what holds them.

    Parameters
    ----------
    found : Finding
        As `trajplan.checks.slip` gives it.
    wanted : Aim
        What the screws are to stand square to.

    Returns
    -------
    Finding
        The same where nothing slides, or nothing is aimed off the normal. Else a caution that
        names the decision, or a note where the case names a plate.
    """
    if not wanted.slanted or found.verdict < Verdict.CAUTION or found.measured is None:
        return found
    said = (
        "The screws are aimed off the fracture normal, as the case asks, so friction bears only "
        f"{found.measured:.1f} of the shear that tightening makes. Hold the reduction with forceps "
        "until all screws are tight"
    )
    if wanted.held:
        return replace(found, verdict=Verdict.NOTE, why=f"{said}; the plate holds it after.")
    return replace(
        found,
        verdict=Verdict.CAUTION,
        why=f"{said}, and decide what holds it after: a screw square to the fracture, or a plate "
        "(screws.protection).",
    )
