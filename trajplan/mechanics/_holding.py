"""Holding strength of a screw: pull-out of its thread, over the range of what bone may be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.mechanics._engaged import engaged
from trajplan.mechanics._pull_out import shear_area
from trajplan.mechanics._range import Range, not_negative

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats
    from trajplan.mechanics._bone_class import BoneClass, Strength
    from trajplan.mechanics._engaged import Engaged
    from trajplan.trajectory import Trajectories

__all__ = ["CORTEX_SPREAD", "holding", "trajectory_holding"]

#: An assumed cortex may be this much thinner or thicker (assumption: cortices of one bone
#: spread by about this much between people, as the ulna's 4.4 mm with 2 to 8).
CORTEX_SPREAD = 0.25


def trajectory_holding(
    trajectories: Trajectories, bone_class: BoneClass, spread: float = CORTEX_SPREAD
) -> Range:
    """Holding strength of planned screws.

    Parameters
    ----------
    trajectories : Trajectories
        ``n`` screws.
    bone_class : BoneClass
        What the bone is taken for.
    spread : float
        How much thinner or thicker, as a share, an assumed cortex may be.

    Returns
    -------
    Range
        N; see `holding`.
    """
    lengths = [engaged(trajectories, scale) for scale in (1.0 - spread, 1.0, 1.0 + spread)]
    dims = trajectories.dims
    return holding(lengths, bone_class, dims.thread, dims.core, dims.pitch)


def holding(
    lengths: Sequence[Engaged],
    bone_class: BoneClass,
    thread: ArrayLike,
    core: ArrayLike,
    pitch: ArrayLike,
) -> Range:
    """Holding strength from the thread that bites.

    Parameters
    ----------
    lengths : sequence of three Engaged
        Least, expected and greatest thread in bone of ``n`` screws.
    bone_class : BoneClass
        Strengths of cortical and cancellous bone.
    thread, core, pitch : (n,) float arrays, mm
        The screws.

    Returns
    -------
    Range
        N. Bone that may be either kind counts as cancellous, but in ``high`` as cortical; what
        may be marrow counts nothing, but in ``high`` as cancellous.
        NaN where a length or a strength is unknown, or no thread bites.

    Raises
    ------
    DegenerateError
        If a length is negative or a dimension impossible.
    """
    per_mm = shear_area(thread, core, pitch)
    low, estimate, high = lengths
    hard, soft = bone_class.cortical.shear, bone_class.cancellous.shear
    bounds = (
        _strength_sum(hard, soft, "low", low.cortical, low.cancellous + low.untold),
        _strength_sum(
            hard, soft, "estimate", estimate.cortical, estimate.cancellous + estimate.untold
        ),
        _strength_sum(
            hard, soft, "high", high.cortical + high.untold, high.cancellous + high.perhaps
        ),
    )
    return Range(*(per_mm * bound for bound in bounds))


def _strength_sum(
    hard: Strength | None, soft: Strength | None, bound: str, in_hard: Floats, in_soft: Floats
) -> Floats:
    """Sum of strength times length, N/mm; NaN where there is nothing or it is unknown."""
    total = _part(hard, bound, in_hard) + _part(soft, bound, in_soft)
    return np.where(total > 0.0, total, np.nan)


def _part(strength: Strength | None, bound: str, length: Floats) -> Floats:
    value = np.nan if strength is None else float(getattr(strength, bound))
    length = not_negative("engaged length", length)
    return np.where(length == 0.0, 0.0, value * length)
