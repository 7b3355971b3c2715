"""The load at which a squeezed fracture opens or slides."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from trajplan.errors import DegenerateError
from trajplan.mechanics._pressed import press_surface
from trajplan.mechanics._range import BONE_FRICTION

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.mechanics._load import Load
    from trajplan.mechanics._pressed import Pressed
    from trajplan.mechanics._range import Friction
    from trajplan.mechanics._region import Region

__all__ = ["OpeningLoad", "opening_load"]

#: Factors tried on the way up: doublings from the first to the last.
FIRST, LAST = 2.0**-10, 2.0**10
#: Share within which a factor is found; bone is known far less well.
NEAR = 1e-4
#: Reserve beyond which more makes no difference to the search.
PLENTY = 1e6


@dataclass(frozen=True, slots=True)
class OpeningLoad:
    """Factors on a load; infinite where it may grow past a thousandfold, NaN unknown."""

    gap: float  # at which the share in contact falls below the one asked for
    slip_low: float  # at which the fragments slide or come apart, with the least friction
    slip_estimate: float
    slip_high: float

    @property
    def low(self) -> float:
        """Factor up to which the fracture stays closed and still with any friction."""
        return float(np.minimum(self.gap, self.slip_low))

    @property
    def high(self) -> float:
        """The same with the most friction."""
        return float(np.minimum(self.gap, self.slip_high))


def opening_load(
    region: Region,
    clamp: Load,
    load: Load,
    *,
    friction: Friction = BONE_FRICTION,
    share: float = 1.0,
) -> OpeningLoad:
    """Grow a load until the fracture opens, and until it slides.

    Parameters
    ----------
    region : Region
        The fracture.
    clamp : Load
        Of the screws, as from `clamp_load`; it stays as the load grows, which holds while
        screws are much softer than bone on bone (assumption).
    load : Load
        The outer load at factor 1, as from `shaft_load`.
    friction : Friction
        Of bone on bone.
    share : float
        Share of the region that must stay in contact; 1: every point.

    Returns
    -------
    OpeningLoad
        0 where the screws alone leave it open or sliding.

    Raises
    ------
    DegenerateError
        If the share is not above 0 and up to 1, or a load is not finite or nothing.
    """
    if not 0.0 < share <= 1.0:
        raise DegenerateError(f"share must be above 0 and up to 1, found {share:g}")
    if not np.any([load.force, load.moment]):
        raise DegenerateError("the outer load is nothing, so no factor on it opens a gap")

    @cache
    def pressed(factor: float, mu: float) -> Pressed:
        return press_surface(region, clamp.plus(load, factor), mu)

    def contact_share(factor: float) -> float:
        found = pressed(factor, friction.low).contact
        return (found.share if found.balanced else 0.0) - share * (1.0 - NEAR)

    def slip(mu: float) -> float:
        def reserve(factor: float) -> float:
            found = pressed(factor, mu)
            return min(mu * found.limit, PLENTY) - 1.0 if found.contact.balanced else -1.0

        return _first_drop(reserve)

    return OpeningLoad(
        gap=_first_drop(contact_share),
        slip_low=slip(friction.low),
        slip_estimate=slip(friction.estimate),
        slip_high=slip(friction.high),
    )


def _first_drop(value: Callable[[float], float]) -> float:
    """Least factor at which a value falls below zero, going up by doublings."""
    before, now = 0.0, value(0.0)
    factor = FIRST
    while now >= 0.0 and factor <= LAST:
        now = value(factor)
        if now >= 0.0:
            before, factor = factor, 2.0 * factor
    if np.isnan(now):
        return np.nan
    if now >= 0.0:
        return np.inf
    if value(before) < 0.0:
        return 0.0
    return float(brentq(value, before, factor, xtol=NEAR * factor, rtol=NEAR))
