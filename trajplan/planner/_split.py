"""Cut the bone of a case at its fracture, to try a plan on fragments."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.bone import Rough, split_bone
from trajplan.errors import CaseError

if TYPE_CHECKING:
    from trajplan.bone import Split
    from trajplan.planner._setup import Setup

__all__ = ["split_case"]


#: mm; a rougher break than this is no one break (assumption).
MOST_ROUGH = 10.0


def split_case(setup: Setup, *, rough: float = 0.0, seed: int = 0) -> Split:
    """Cut an intact bone along its fracture.

    Parameters
    ----------
    setup : Setup
        A case whose fracture is a plane, picked points or a surface.
    rough : float, mm
        Amplitude of the roughness of a plane cut; 0 for a smooth one.
    seed : int
        Seed of the roughness.

    Returns
    -------
    Split

    Raises
    ------
    CaseError
        If the bone is in fragments already, or the roughness is negative or asked of a
        surface, which is as rough as it is.
    """
    fracture = setup.fracture
    if fracture.source == "between":
        raise CaseError(
            "the bone of this case is in fragments already",
            remedy="give one mesh and a plane, points or a surface to cut it by",
            file=setup.case.file,
            where="bone",
        )
    surface = fracture.source in ("mesh", "group")
    if seed < 0:
        raise CaseError(
            f"the seed is {seed}",
            remedy="give 0 or more",
            file=setup.case.file,
            where="--seed",
        )
    if not 0.0 <= rough <= MOST_ROUGH or (rough > 0.0 and surface):
        raise CaseError(
            f"a roughness of {rough:g} mm cannot be given to this cut",
            remedy="leave --rough out" if surface else f"give 0 to {MOST_ROUGH:g}",
            file=setup.case.file,
            where="--rough",
        )
    if surface:
        assert setup.patch is not None
        return split_bone(setup.bone.surface, setup.patch)
    plane = fracture.zones[0].plane
    return split_bone(setup.bone.surface, Rough(plane, rough, seed) if rough else plane)
