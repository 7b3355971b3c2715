"""From which sides the bone is drilled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import DOES_NOT_APPLY, LIMIT_SLACK, Finding, Ruling, Verdict, grade

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories, WirePaths

__all__ = ["Approach", "approach", "one_approach"]


@dataclass(frozen=True, slots=True, eq=False)
class Approach:
    """The side that the bone is reached from."""

    direction: Vec3  # (3,) unit, from the bone towards the surgeon
    cone: float  # degrees, half-angle within which the drill may point


def approach(screws: Trajectories | WirePaths, side: Approach | None) -> Ruling:
    """Fail a screw or wire that would have to be drilled from a side that is not open.

    Parameters
    ----------
    screws : Trajectories or WirePaths
        ``n`` screws or wires.
    side : Approach or None
        The open side; None: the case does not say.

    Returns
    -------
    Ruling
        Measures degrees between the axis, seen from the tip, and the middle of the side.
    """
    n, hit = len(screws), screws.corridors.hit
    if side is None:
        blank = np.full(n, np.nan)
        verdict = np.where(hit, int(Verdict.UNKNOWN), DOES_NOT_APPLY).astype(np.int8)
        angle, limit = blank, blank
    else:
        angle = _off(side, screws.corridors.axes.direction)
        verdict, limit = grade(angle, fail_above=side.cone, applies=hit)
    return Ruling(
        rule="approach",
        verdict=verdict,
        measured=angle,
        limit=limit,
        unit="degrees",
        source="the case",
        sentences={
            Verdict.PASS: "The axis lies {measured} off the middle of the open side.",
            Verdict.FAIL: "The axis lies {measured} off the middle of the open side, which "
            "ends at {limit}: it cannot be drilled from there.",
            Verdict.UNKNOWN: "The case does not say from which side the bone can be reached.",
        },
    )


def _off(side: Approach, direction: Vec3s) -> Floats:
    """Degrees between axes, seen from the tip, and the middle of the open side."""
    angle: Floats = np.degrees(np.arccos(np.clip(-direction @ side.direction, -1.0, 1.0)))
    return angle


def one_approach(
    direction: Vec3s, ids: Sequence[str], side: Approach | None, limits: Limits
) -> Finding | None:
    """Caution screws that are drilled from opposite sides of the bone.

    Parameters
    ----------
    direction : (n, 3) float array
        Unit directions from head to tip.
    ids : sequence of str, length n
        Names of the screws.
    side : Approach or None
        The open side; None: the case does not say.
    limits : Limits
        ``one_approach``, degrees between two directions.

    Returns
    -------
    Finding or None
        For the plan as a whole; measures the widest angle between two directions. Passes
        where the case names an open side that all of them are drilled from. None for fewer
        than two screws.
    """
    if len(ids) < 2:
        return None
    cosine = np.clip(direction @ direction.T, -1.0, 1.0)
    first, second = sorted(divmod(int(cosine.argmin()), len(ids)))
    widest = np.degrees(np.arccos(cosine[first, second]))
    verdict, _ = grade(np.array([widest]), caution_above=limits.one_approach)
    word, pair = Verdict(int(verdict[0])), f"{ids[first]} and {ids[second]}"
    if side is not None and (_off(side, direction) <= side.cone + LIMIT_SLACK).all():
        word = Verdict.PASS
        why = (
            "All screws are drilled from the open side that the case names, at most "
            f"{widest:.0f} degrees apart."
        )
    elif word is Verdict.PASS:
        why = f"All screws are drilled from one side, at most {widest:.0f} degrees apart."
    else:
        why = (
            f"{pair} are drilled from sides that lie {widest:.0f} degrees apart: that may take "
            "two approaches to the bone. Decide whether both sides are opened, or name the open "
            "side in screws.approach."
        )
    return Finding(
        rule="one_approach",
        subject="plan",
        verdict=word,
        measured=float(widest),
        limit=limits.one_approach,
        unit="degrees",
        why=why,
        source="common practice; limit: assumption",
    )
