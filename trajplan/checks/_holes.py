"""Rules on obstacles that have holes or lie in crumbs: what is missing is not kept clear of."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import SurfaceDistance, Volume, missing_of
from trajplan.checks._clearance import Obstacle
from trajplan.checks._types import Verdict

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Literal

    from trajplan.bone import Surface
    from trajplan.checks._types import Ruling

__all__ = ["as_obstacle", "beside_holes"]

#: Height, as a share of its width, to which what is missing may bulge out of the lid of a hole:
#: an arc that turns by 60 degrees from rim to rim (assumption), half of tan 15 degrees.
BULGE = 0.135


def as_obstacle(
    name: str, role: Literal["joint", "avoid"], surface: Surface, clearance: float
) -> Obstacle:
    """Make a surface ready to be kept clear of, with what may be missing of it.

    Parameters
    ----------
    name : str
        As the case calls it.
    role : {"joint", "avoid"}
        What it is.
    surface : Surface
        Open or closed.
    clearance : float, mm
        What screws keep.

    Returns
    -------
    Obstacle
    """
    found = missing_of(surface, facets=role == "joint")
    missing = None
    if found is not None:
        missing = Obstacle(
            name=name,
            role=role,
            surface=found.lids,
            distance=SurfaceDistance.of(found.lids),
            clearance=clearance + BULGE * found.widest,
            volume=None if found.closed is None else Volume.of(found.closed),
            said=found.said,
        )
    distance, volume = SurfaceDistance.of(surface), Volume.of(surface)
    return Obstacle(name, role, surface, distance, clearance, volume, missing)


def beside_holes(rule: Callable[[Obstacle], Ruling], obstacle: Obstacle) -> Ruling:
    """Apply a rule to an obstacle; what it would say worse of a missing part is unknown.

    Parameters
    ----------
    rule : callable
        A rule on one obstacle.
    obstacle : Obstacle
        The obstacle.

    Returns
    -------
    Ruling
        As the rule's own; a fail stays.
    """
    ruling, missing = rule(obstacle), obstacle.missing
    if missing is None:
        return ruling
    lid = rule(missing).verdict
    stands = (ruling.verdict == Verdict.FAIL) | (ruling.verdict == Verdict.UNKNOWN)
    lost = (lid > np.maximum(ruling.verdict, Verdict.NOTE)) & ~stands
    told = (
        f"This cannot be told: {obstacle.label} {missing.said}, and what is missing may lie "
        "here. Export it whole."
    )
    return replace(
        ruling,
        verdict=np.where(lost, int(Verdict.UNKNOWN), ruling.verdict).astype(np.int8),
        measured=np.where(lost, np.nan, ruling.measured),
        doubted=lambda i: told if lost[i] else "",
    )
