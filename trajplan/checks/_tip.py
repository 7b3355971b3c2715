"""Where the tip ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import LIMIT_SLACK, Ruling, Verdict, grade
from trajplan.trajectory import stocked_below

if TYPE_CHECKING:
    from trajplan.checks._limits import Limits
    from trajplan.trajectory import Trajectories

__all__ = ["tip_past", "tip_short"]


def tip_past(screws: Trajectories, limits: Limits) -> Ruling:
    """Judge how far the tip of a bicortical screw stands out of the far cortex.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``tip_least`` and ``tip_most`` caution; a tip inside the bone, or one past
        ``tip_worst``, fails. Past ``tip_most`` it is a note where the tray has nothing between:
        the next shorter screw would end before ``tip_least``.

    Returns
    -------
    Ruling
        Measures mm past the reading of the depth gauge.
    """
    shorter = screws.proud - (screws.length - stocked_below(screws.dims, screws.length))
    verdict, limit = grade(
        screws.proud,
        fail_below=0.0,
        fail_above=limits.tip_worst,
        caution_below=limits.tip_least,
        caution_above=limits.tip_most,
        applies=screws.corridors.hit & screws.bicortical,
        doubt=~screws.corridors.decided,
    )
    no_better = ~(shorter >= limits.tip_least - LIMIT_SLACK)  # NaN: nothing shorter is stocked
    gap = (verdict == Verdict.CAUTION) & (screws.proud > limits.tip_most) & no_better
    verdict[gap] = Verdict.NOTE
    return Ruling(
        rule="tip_past",
        verdict=verdict,
        measured=screws.proud,
        limit=limit,
        unit="mm",
        source="AO Foundation, online surgery reference, tibial shaft, screw length; upper limit: "
        "assumption",
        sentences={
            Verdict.PASS: "The tip leaves the far cortex by {measured}.",
            Verdict.NOTE: "The tip leaves the far cortex by {measured}, more than the {limit} that "
            "is usual: {remark}.",
            Verdict.CAUTION: "The tip leaves the far cortex by {measured}, where {limit} is the "
            "{remark}.",
            Verdict.FAIL: "The tip ends {remark}, and no stocked length is better.",
            Verdict.UNKNOWN: "Where the tip ends cannot be told: the surface is open there, or "
            "nothing carries the head.",
        },
        remark=lambda i: (
            _tray(float(shorter[i])) if gap[i] else _place_of(float(screws.proud[i]), limits)
        ),
    )


def _tray(shorter: float) -> str:
    """Why no better length was taken, by where the next shorter screw would end."""
    if np.isnan(shorter):
        return "no shorter screw is stocked"
    if shorter < 0.0:
        return f"the next shorter screw would end {-shorter:.1f} mm inside the far cortex"
    return f"the next shorter screw would leave it by only {shorter:.1f} mm"


def _place_of(proud: float, limits: Limits) -> str:
    """Where a tip ends that ends in the wrong place, by its distance past the far cortex."""
    if proud < 0.0:
        return f"{-proud:.1f} mm short of the outside of the far cortex"
    if proud > limits.tip_worst:
        most = f"much too far: {limits.tip_worst:.1f} mm is the most"
        return f"{proud:.1f} mm past the far cortex, {most}"
    if proud < limits.tip_least:
        return "least: the last threads do not bite"
    return "most: it protrudes under the soft tissue, so take a shorter one"


def tip_short(screws: Trajectories, _limits: Limits) -> Ruling:
    """Judge whether the tip of a unicortical screw stops short of the far wall.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    Ruling
        Measures mm between the tip and the deepest place it may reach; negative: too deep.
    """
    spare = screws.room - screws.tip
    verdict, limit = grade(
        spare,
        fail_below=0.0,
        applies=screws.corridors.hit & ~screws.bicortical,
        doubt=~screws.corridors.decided,
    )
    return Ruling(
        rule="tip_short",
        verdict=verdict,
        measured=spare,
        limit=np.where(np.isfinite(limit), limit, np.nan),
        unit="mm",
        source="common practice",
        sentences={
            Verdict.PASS: "The tip stops {measured} before the place where it would come too near "
            "to the far wall.",
            Verdict.FAIL: "The tip goes {measured} past the deepest place that it may reach: no "
            "stocked length is short enough.",
            Verdict.UNKNOWN: "Where the far wall lies cannot be told: the surface is open there, "
            "or nothing carries the head.",
        },
    )
