"""How parallel an axis runs to a joint surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Vec3, Vec3s
    from trajplan.checks._limits import Limits

__all__ = ["parallel_to_joint"]


def parallel_to_joint(direction: Vec3s, hit: Bools, normal: Vec3, limits: Limits) -> Ruling:
    """Judge how far axes deviate from the plane of a joint surface.

    Parameters
    ----------
    direction : (n, 3) float array
        Unit directions of screws or wires.
    hit : (n,) bool array
        Which of them meet the bone.
    normal : (3,) float array
        Normal of the plane fitted to the joint surface.
    limits : Limits
        ``parallel``, degrees, cautions.

    Returns
    -------
    Ruling
        Measures degrees out of the plane.
    """
    off = np.degrees(np.arcsin(np.clip(np.abs(direction @ normal), 0.0, 1.0)))
    verdict, limit = grade(off, caution_above=limits.parallel, applies=hit)
    return Ruling(
        rule="parallel_to_joint",
        verdict=verdict,
        measured=off,
        limit=limit,
        unit="degrees",
        source="common practice; limit: assumption",
        sentences={
            Verdict.PASS: "The axis runs {measured} off parallel to the joint surface.",
            Verdict.CAUTION: "The axis runs {measured} off parallel to the joint surface, past "
            "{limit}. Decide whether so much is allowed (limits.parallel), or turn the axis.",
        },
    )
