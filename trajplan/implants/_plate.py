"""What the catalogue holds of plates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Floats
    from trajplan.implants._types import Provenance

__all__ = ["HoleForm", "Plate", "PlateHole", "PlateMaterial", "ball_height"]

HoleForm: TypeAlias = Literal["sloped", "round", "long"]


@dataclass(frozen=True, slots=True)
class PlateMaterial:
    """What a plate is made of; MPa."""

    modulus: float  # of elasticity
    yield_strength: float | None  # key `yield`


@dataclass(frozen=True, slots=True)
class PlateHole:
    """A hole of a plate; lengths in mm, angles in degrees. None: no source names it."""

    form: HoleForm  # sloped: its walls push the head along; long: the head may slide
    thread: tuple[float, ...]  # thread diameters that it takes
    tilt_along: float | None  # greatest tilt of a screw off the hole's axis, along the plate
    tilt_across: float | None
    shift: float | None  # of the plate along the bone, by one eccentric screw
    travel: float | None  # that a head still has in its hole after that
    neutral: float | None  # offset of a neutral screw from the middle, away from the fracture
    slope: float | None  # of the wall that the head slides down, to the plate
    seat: float | None  # radius of the sphere; None: that of the screw's head


@dataclass(frozen=True, slots=True)
class Plate:
    """One kind of straight plate in all its numbers of holes; lengths in mm."""

    kind: str
    thickness: float
    width: float
    spacing: float  # from hole to hole
    middle: float | None  # from hole to hole over the fracture; None: as `spacing`
    end: float  # from the last hole's middle to the plate's end
    back: float | None  # radius of a hollow underside, across the plate; None: flat
    holes: tuple[int, ...]  # numbers of holes on the tray, rising
    bend_most: float | None  # degrees, greatest bend between two holes
    material: PlateMaterial
    hole: PlateHole
    sources: Mapping[str, Provenance]  # field -> where its value comes from

    def value(self, key: str) -> object:
        """Value of a field, by its key in a catalogue file.

        Parameters
        ----------
        key : str
            A key of ``sources``, of the plate itself, its material or its hole.

        Returns
        -------
        object
        """
        name = "yield_strength" if key == "yield" else key
        parts = (self, self.material, self.hole)
        return next(getattr(part, name) for part in parts if hasattr(part, name))

    def places(self, holes: int) -> Floats:
        """Where the holes lie along the plate.

        Parameters
        ----------
        holes : int
            Number of holes, at least 2.

        Returns
        -------
        (holes,) float array, mm
            From the plate's first end. A longer middle lies between the two middle holes; of
            an odd number one hole more lies on its far side.
        """
        gaps = np.full(holes - 1, self.spacing)
        if self.middle is not None:
            gaps[holes // 2 - 1] = self.middle
        places: Floats = self.end + np.concatenate([[0.0], np.cumsum(gaps)])
        return places

    def length(self, holes: int) -> float:
        """Length of the plate.

        Parameters
        ----------
        holes : int
            Number of holes, at least 2.

        Returns
        -------
        float, mm
        """
        return float(self.places(holes)[-1]) + self.end

    def seat_height(self, head_radius: float, thread: float) -> float:
        """Height of the middle of a head's sphere over the plate's underside.

        Parameters
        ----------
        head_radius, thread : float, mm
            Radius of the head's spherical under-surface, and diameter of the thread.

        Returns
        -------
        float, mm
            See `ball_height`.
        """
        return ball_height(self.thickness, head_radius, thread)


def ball_height(thickness: float, head_radius: float, thread: float) -> float:
    """Height of the middle of a head's sphere over a plate's underside.

    Parameters
    ----------
    thickness : float, mm
        Of the plate.
    head_radius, thread : float, mm
        Radius of the head's spherical under-surface, and diameter of the thread.

    Returns
    -------
    float, mm

    Notes
    -----
    Assumption of the project, no source gives it: half of the sphere is sunk into the plate. A
    plate too thin for that lets it sink until the sphere, where it is as wide as the thread,
    meets the underside.
    """
    sunk = math.sqrt(max(head_radius**2 - 0.25 * thread**2, 0.0))
    return max(thickness, sunk)
