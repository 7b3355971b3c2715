"""Sections of plates, and of a plate and a bone that bend together (beam theory)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.mechanics._range import not_negative, positive

if TYPE_CHECKING:
    from trajplan.implants import Plate

__all__ = ["Bonded", "PlateSection", "ShaftSection", "bonded", "plate_section", "shaft_section"]


@dataclass(frozen=True, slots=True)
class PlateSection:
    """A plate's section between its holes, bent flatwise; mm, N, MPa."""

    area: float  # mm²
    height: float  # mm, of the centroid over the underside's lowest line
    second: float  # mm⁴, moment of area about the centroid
    fibre: float  # mm, from the centroid to the outermost fibre
    modulus: float  # MPa
    yield_strength: float | None  # MPa

    @property
    def stiffness(self) -> float:
        """Bending stiffness, N mm²."""
        return self.modulus * self.second

    @property
    def yield_moment(self) -> float:
        """Moment at which the outermost fibre yields, N mm; NaN where its strength is unknown."""
        strength = math.nan if self.yield_strength is None else self.yield_strength
        return strength * self.second / self.fibre

    def strain(self, moment: float) -> float:
        """Strain of the outermost fibre where the plate bears a moment alone.

        Parameters
        ----------
        moment : float, N mm
            In the plate.

        Returns
        -------
        float
        """
        return moment * self.fibre / self.stiffness


@dataclass(frozen=True, slots=True)
class ShaftSection:
    """A bone's section; mm, MPa."""

    radius: float  # mm, of the outside: from the centroid to the plate's underside
    area: float  # mm²
    second: float  # mm⁴
    core: float  # mm, half depth of the core: a force within it presses the whole section
    modulus: float  # MPa


@dataclass(frozen=True, slots=True)
class Bonded:
    """A plate and a bone that bend and stretch as one."""

    shift: float  # mm, of the axis that does not stretch, towards the plate
    stiffness: float  # N mm²
    axial_share: float  # of an axial force that the plate takes; less if it slips


def plate_section(plate: Plate) -> PlateSection:
    """Section of a plate.

    Parameters
    ----------
    plate : Plate
        A rectangle, or the sector of a ring where its underside is hollow.

    Returns
    -------
    PlateSection
    """
    modulus, strength = plate.material.modulus, plate.material.yield_strength
    w, t = plate.width, plate.thickness
    if plate.back is None:
        return PlateSection(w * t, t / 2.0, w * t**3 / 12.0, t / 2.0, modulus, strength)
    inner, outer = plate.back, plate.back + t
    half = math.asin(w / (2.0 * inner))
    area = half * (outer**2 - inner**2)
    middle = 2.0 * math.sin(half) / 3.0 * (outer**3 - inner**3) / area
    about = (outer**4 - inner**4) / 4.0 * (half + math.sin(half) * math.cos(half))
    low = inner * math.cos(half)
    fibre = max(outer - middle, middle - low)
    return PlateSection(area, middle - low, about - area * middle**2, fibre, modulus, strength)


def shaft_section(outer: float, inner: float, modulus: float) -> ShaftSection:
    """Section of a tubular shaft.

    Parameters
    ----------
    outer, inner : float, mm
        Diameters of bone and canal; no canal is 0.
    modulus : float, MPa
        Of cortex.

    Returns
    -------
    ShaftSection

    Raises
    ------
    DegenerateError
        If a size is not above zero.
    """
    positive("outer diameter and modulus", [outer, modulus, outer - inner])
    not_negative("inner diameter", inner)
    r, hole = outer / 2.0, inner / 2.0
    return ShaftSection(
        radius=r,
        area=math.pi * (r**2 - hole**2),
        second=math.pi / 4.0 * (r**4 - hole**4),
        core=(r**2 + hole**2) / (4.0 * r),
        modulus=modulus,
    )


def bonded(plate: PlateSection, bone: ShaftSection) -> Bonded:
    """Plate and bone as one, the fracture closed and nothing slipping.

    Parameters
    ----------
    plate : PlateSection
        The plate.
    bone : ShaftSection
        The bone.

    Returns
    -------
    Bonded

    Notes
    -----
    The transformed section of every handbook (Ugural and Fenster, Advanced Mechanics of
    Materials and Applied Elasticity, 5.9).
    """
    lever = bone.radius + plate.height
    stretch_plate, stretch_bone = plate.modulus * plate.area, bone.modulus * bone.area
    share = stretch_plate / (stretch_plate + stretch_bone)
    shift = share * lever
    bend_bone = bone.modulus * bone.second + stretch_bone * shift**2
    bend_plate = plate.stiffness + stretch_plate * (lever - shift) ** 2
    return Bonded(shift, bend_bone + bend_plate, share)
