"""How a screw lies to the shaft of the bone, and how thick it is for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import LIMIT_SLACK, Ruling, Verdict, grade

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats
    from trajplan.bone import ShaftAxis
    from trajplan.checks._limits import Limits
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["along_shaft", "bone_share"]


def along_shaft(screws: Trajectories, limits: Limits, shaft: ShaftAxis) -> Ruling:
    """Judge screws that run along a shaft, from a bone end or through its canal.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        Within ``along_angle`` degrees of the shaft axis a screw counts as lengthwise; then
        ``along_length`` cautions and ``along_most`` fails, both in shaft diameters.
    shaft : ShaftAxis
        The bone's long axis.

    Returns
    -------
    Ruling
        Measures, of a lengthwise screw, its way in the bone, from the entry to the tip or the
        exit, in shaft diameters; of one that crosses the shaft there is nothing to measure.
        Does not apply to a bone without a shaft.
    """
    axes, hit = screws.corridors.axes, screws.corridors.hit
    cosine = np.clip(np.abs(axes.direction @ shaft.direction), 0.0, 1.0)
    angle = np.degrees(np.arccos(cosine))
    length = np.fmin(screws.tip, screws.corridors.exit) / shaft.diameter
    lengthwise = angle < limits.along_angle - LIMIT_SLACK
    verdict, limit = grade(
        np.where(lengthwise | ~hit, length, 0.0),
        caution_above=limits.along_length,
        fail_above=limits.along_most,
        applies=hit & shaft.found,
        doubt=lengthwise & ~screws.corridors.decided,
    )
    return Ruling(
        rule="along_shaft",
        verdict=verdict,
        measured=np.where(lengthwise, length, np.nan),
        limit=np.where(lengthwise, limit, np.nan),
        unit="shaft diameters",
        source="common practice: a lag screw crosses the shaft; limits: assumption",
        sentences={
            Verdict.PASS: "{remark}.",
            Verdict.CAUTION: "{remark}: a way of {measured} in the bone, longer than {limit}. It "
            "lies in the canal, where there is little to hold. Decide whether a screw along the "
            "shaft is meant.",
            Verdict.FAIL: "{remark}: a way of {measured} in the bone, longer than {limit}. That is "
            "no lag screw's way, and the drill cannot be kept to it.",
            Verdict.UNKNOWN: "How far the screw runs along the shaft cannot be told: the surface "
            "is open there.",
        },
        remark=lambda i: _way(float(angle[i]), float(length[i]), int(verdict[i]), limits),
    )


def _way(angle: float, length: float, verdict: int, limits: Limits) -> str:
    """How a screw lies to the shaft; one that passes has no other words for its measure."""
    off = f"{angle:.1f} degrees off its length"
    if angle >= limits.along_angle - LIMIT_SLACK:
        under = f"under {limits.along_angle:g} it would run along it"
        return f"The screw crosses the shaft, {off} ({under})"
    way = (
        f": a way of {length:.1f} shaft diameters in the bone (up to {limits.along_length:g} "
        "without a caution)"
    )
    return f"The screw runs along the shaft, {off}{way if verdict == Verdict.PASS else ''}"


def bone_share(
    screws: Trajectories, limits: Limits, shaft: ShaftAxis, zones: Sequence[Zone]
) -> Ruling:
    """Judge how thick a screw is for the bone.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``bone_share`` cautions, ``bone_share_most`` fails.
    shaft : ShaftAxis
        The bone's long axis, with its diameter all along.
    zones : sequence of Zone
        Zones of the fracture.

    Returns
    -------
    Ruling
        Measures the thread diameter as a per cent of the bone's mean width across the shaft
        where the screw crosses the fracture; of a bone without a shaft, as a per cent of the
        short side of the fracture, if that is one flat zone. Unknown where neither is known;
        does not apply to a screw that crosses no fracture.
    """
    width = _shaft_width(screws, shaft) if shaft.found else _fracture_width(screws, zones)
    share = 100.0 * screws.dims.thread / width
    verdict, limit = grade(
        share,
        caution_above=100.0 * limits.bone_share,
        fail_above=100.0 * limits.bone_share_most,
        applies=screws.crossing.inside,
    )
    return Ruling(
        rule="bone_share",
        verdict=verdict,
        measured=share,
        limit=limit,
        unit="%",
        source="common practice, about a third; AO manual of hand fixation (not verified "
        "against the source): a "
        "fragment three thread diameters wide; half of the bone: assumption",
        sentences={
            Verdict.PASS: "The thread takes {measured} of the bone's width.",
            Verdict.CAUTION: "The thread takes {measured} of the bone's width, past {limit}: the "
            "hole weakens the bone; choose a thinner screw.",
            Verdict.FAIL: "The thread takes {measured} of the bone's width, past {limit}: the bone "
            "may break at the hole.",
            Verdict.UNKNOWN: "What share of the bone's width the thread takes cannot be told: the "
            "width is not known there.",
        },
    )


def _fracture_width(screws: Trajectories, zones: Sequence[Zone]) -> Floats:
    """Short side of each screw's fracture, (n,) mm; NaN where it has several zones."""
    pairs = [zone.fragments for zone in zones]
    sides = [
        float(zone.fit.extents[1]) if pairs.count(zone.fragments) == 1 else np.nan for zone in zones
    ]
    return np.array(sides)[screws.crossing.zone]


def _shaft_width(screws: Trajectories, shaft: ShaftAxis) -> Floats:
    """Mean width of the bone across the shaft where each screw crosses, (n,) mm."""
    sliced = np.isfinite(shaft.heights)
    if not sliced.any():
        return np.full(len(screws), np.nan)
    height = (screws.corridors.axes.at(screws.crossing.axis) - shaft.point) @ shaft.direction
    return np.interp(height, shaft.heights[sliced], shaft.diameters[sliced])
