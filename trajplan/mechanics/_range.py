"""Ranges instead of single numbers, and the guards at the edge of this floor."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import CaseError, DegenerateError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats

__all__ = ["BONE_FRICTION", "METAL_FRICTION", "Friction", "Range", "not_negative", "positive"]


@dataclass(frozen=True, slots=True, eq=False)
class Range:
    """A value of ``n`` subjects with the bounds that the inputs leave; NaN is unknown."""

    low: Floats  # (n,)
    estimate: Floats  # (n,)
    high: Floats  # (n,)


@dataclass(frozen=True, slots=True)
class Friction:
    """A coefficient of friction and its plausible bounds.

    Raises
    ------
    CaseError
        If they are not finite, not above zero, or out of order.
    """

    low: float
    estimate: float
    high: float

    def __post_init__(self) -> None:
        values = (self.low, self.estimate, self.high)
        if not 0.0 < self.low <= self.estimate <= self.high < math.inf:
            raise CaseError(
                f"friction of {' / '.join(f'{v:g}' for v in values)} cannot be",
                remedy="give three numbers above 0, in rising order",
                where="friction",
            )


#: Bone on bone. No printed measurement was found; von Fraunhofer et al. 1985 (Surface Technology
#: 25:377-383, abstract) measured that sawn bone grips more than ground bone, and prints no number
#: there. Models use 0.3 to 0.46 (from memory); between them tan 20 degrees: the tilt that is taught
#: as the limit of a lag screw (Wheeless' Textbook of Orthopaedics, lag screw theory).
BONE_FRICTION = Friction(0.3, 0.364, 0.46)

#: Screw on bone, thread and head alike: 0.37 for a plate on bone (Hayes and Perren 1972, Clin
#: Orthop 89:236, from memory); the width of the range is an assumption.
METAL_FRICTION = Friction(0.2, 0.3, 0.4)


def positive(name: str, values: ArrayLike) -> Floats:
    """Refuse what a dimension or a strength cannot be.

    Parameters
    ----------
    name : str
        Name used in the error.
    values : array_like
        Values that must be finite and above zero.

    Returns
    -------
    float array

    Raises
    ------
    DegenerateError
        If one is not.
    """
    array = np.asarray(values, dtype=np.float64)
    bad = ~(np.isfinite(array) & (array > 0.0))
    if bad.any():
        raise DegenerateError(f"{name} must be above 0 and finite, found {array[bad].flat[0]:g}")
    return array


def not_negative(name: str, values: ArrayLike) -> Floats:
    """Refuse what a length or a force cannot be; NaN passes, because it says unknown.

    Parameters
    ----------
    name : str
        Name used in the error.
    values : array_like
        Values that must be NaN, or finite and not below zero.

    Returns
    -------
    float array

    Raises
    ------
    DegenerateError
        If one is not.
    """
    array = np.asarray(values, dtype=np.float64)
    bad = (array < 0.0) | np.isinf(array)
    if bad.any():
        raise DegenerateError(f"{name} must not be negative, found {array[bad].flat[0]:g}")
    return array
