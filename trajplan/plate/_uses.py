"""Which hole of a plate does what: neutral, eccentric, lag or empty."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from trajplan.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.implants import PlateHole
    from trajplan.plate._strip import Strip

__all__ = ["Use", "drill_offsets", "hole_uses", "reach_past"]

Use: TypeAlias = Literal["neutral", "eccentric", "lag", "empty"]


def hole_uses(
    along: Floats,
    half: float,
    *,
    eccentric: int = 0,
    first_low: bool = True,
    lag: int | None = None,
) -> tuple[Use, ...]:
    """What each hole does.

    Parameters
    ----------
    along : (h, z) float array, mm
        From each hole to each zone of the fracture, as from `fracture_under`.
    half : float, mm
        Half of a hole's length; a hole nearer to the fracture lies over it.
    eccentric : int
        Eccentric screws wanted, in the fragment that does not come first; 0: the plate only
        protects.
    first_low : bool
        Whether the fragment at the plate's first end is fixed first.
    lag : int, optional
        Hole, from 0, that a lag screw goes through.

    Returns
    -------
    tuple of str, length h
        Eccentric are the holes nearest to the fracture. A hole over the fracture, or between
        two of its zones, stays empty but for a lag screw; a hole under which none runs is
        neutral.

    Raises
    ------
    CaseError
        If the fragment has too few holes for the eccentric screws, or there is no such hole
        for the lag screw.
    """
    if lag is not None and not 0 <= lag < len(along):
        raise CaseError(
            f"hole {lag + 1} for the lag screw is none of the {len(along)} of this plate",
            remedy="count the holes from 1, from the plate's first end",
            where="plate, hole",
        )
    low: Bools = np.all(along >= half, axis=1)
    high: Bools = np.all(along <= -half, axis=1)
    uses: list[Use] = ["neutral" if one else "empty" for one in (low | high).tolist()]
    side = np.flatnonzero(high if first_low else low)
    near = side[np.argsort(np.abs(along[side]).min(axis=1), kind="stable")]
    near = near[near != lag]
    if len(near) < eccentric:
        raise CaseError(
            f"{eccentric} eccentric screws want as many holes beyond the fracture, and the plate "
            f"has {len(near)} there",
            remedy="slide the plate, or name one with more holes",
            where="plate, holes",
        )
    for hole in near[:eccentric]:
        uses[hole] = "eccentric"
    if lag is not None:
        uses[lag] = "lag"
    return tuple(uses)


def drill_offsets(uses: Sequence[Use], along: Floats, hole: PlateHole) -> Floats:
    """How far off the middle of its hole each screw is drilled, along the plate.

    Parameters
    ----------
    uses : sequence of str, length h
        As from `hole_uses`.
    along : (h, z) float array, mm
        As there.
    hole : PlateHole
        Of the plate.

    Returns
    -------
    (h,) float array, mm
        Away from the fracture, on along the plate counted positive: that of an eccentric
        screw is the plate's shift; a neutral one beside eccentric ones lies off by the hole's
        own small offset; a lag screw, and every screw of a plate that only protects, lies in
        the middle.

    Raises
    ------
    CaseError
        If no source tells how far an eccentric screw moves the plate.
    """
    if "eccentric" not in uses:
        return np.zeros(len(uses))
    if hole.shift is None:
        raise CaseError(
            "no source tells how far an eccentric screw moves this plate",
            remedy="give hole.shift in a row of your own for it",
            where="plate, hole",
        )
    off = {"neutral": hole.neutral or 0.0, "eccentric": hole.shift, "lag": 0.0, "empty": 0.0}
    return np.array([off[use] for use in uses]) * -np.sign(along[:, 0])


def reach_past(strip: Strip, side: Ints, along: Floats, shaft: int) -> float:
    """How far a plate reaches past the fracture over the fragment that it holds up.

    Parameters
    ----------
    strip : Strip
        The plate.
    side : (h,) int array
        -1 for a hole before the fracture, 1 past it, 0 over it.
    along : (h,) float array, mm
        From each hole to the fracture, along the plate.
    shaft : int
        The side, -1 or 1, that the shaft lies on.

    Returns
    -------
    float, mm
        Negative: it ends short of it; NaN: no hole lies on the shaft's side.
    """
    mine = np.flatnonzero(side == shaft)
    if not len(mine):
        return np.nan
    hole = mine[np.abs(along[mine]).argmin()]
    line = strip.nodes[strip.hole[hole]] + along[hole]
    return float(strip.nodes[-1] - line if shaft < 0 else line - strip.nodes[0])
