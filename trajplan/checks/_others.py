"""Other fractures on a screw's way: with three fragments or more, a screw may pass several."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade
from trajplan.fracture import fracture_depth, joins_pair
from trajplan.trajectory import Technique, bundle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats
    from trajplan.checks._limits import Limits
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["other_fractures"]


def other_fractures(screws: Trajectories, limits: Limits, zones: Sequence[Zone]) -> list[Ruling]:
    """Judge lag screws by the fractures that they pass besides the one that they close.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``max_tilt`` or the arctangent of ``friction`` cautions, that of ``friction_most`` fails.
    zones : sequence of Zone
        All zones; those between the two fragments that a screw is meant for are its own.

    Returns
    -------
    list of Ruling
        Three. ``other_fragments`` fails a screw that joins other fragments where it crosses
        its zone. The others are for screws that pass another fracture between head and tip:
        ``other_thread`` measures mm from its deepest crossing, on the whole ring, to the
        first bite: negative where the thread bites on both sides of it. ``other_tilt``
        measures degrees off its normal where the thread bites beyond it only, so that the
        screw squeezes it too.
    """
    deep, slant = _passed(screws, zones)
    beyond = np.fmin.reduce(screws.bite_from - deep, axis=0, initial=np.nan)
    squeezed = np.where(deep <= screws.bite_from, slant, np.nan)
    tilt = np.fmax.reduce(squeezed, axis=0, initial=np.nan)
    lag = screws.corridors.hit & (screws.technique != Technique.POSITION)
    joined = _joined(screws, zones)
    parted = np.array([zone.fragments is not None for zone in zones])[screws.crossing.zone]
    blank = np.full(len(screws), np.nan)
    wrong, _ = grade(
        np.where(joined, 1.0, 0.0), fail_below=1.0, applies=screws.crossing.inside & parted
    )
    across, none = grade(beyond, fail_below=0.0, applies=lag & np.isfinite(beyond))
    askew, limit = grade(
        tilt,
        caution_above=limits.planned_tilt,
        fail_above=limits.slide_angle,
        applies=lag & np.isfinite(tilt),
    )
    return [
        Ruling(
            rule="other_fragments",
            verdict=wrong,
            measured=blank,
            limit=blank,
            unit="",
            source="geometry",
            sentences={
                Verdict.PASS: "It joins the two fragments that its fracture parts.",
                Verdict.FAIL: "Where it crosses its fracture it joins other fragments than the "
                "two that lie there.",
            },
        ),
        Ruling(
            rule="other_thread",
            verdict=across,
            measured=beyond,
            limit=none,
            unit="mm",
            source="Wheeless' Textbook of Orthopaedics, lag screw theory",
            sentences={
                Verdict.PASS: "The thread bites beyond the other fracture on its way too, by "
                "{measured}.",
                Verdict.FAIL: "The thread lies across another fracture on its way, {measured} of "
                "it on the near side: it bites on both sides and keeps that gap open.",
            },
        ),
        Ruling(
            rule="other_tilt",
            verdict=askew,
            measured=tilt,
            limit=limit,
            unit="degrees",
            source="fail: arctan of the greatest plausible friction (Coulomb friction); "
            "caution: Wheeless' Textbook of Orthopaedics, lag screw theory",
            sentences={
                Verdict.PASS: "It compresses another fracture on its way, {measured} off its "
                "normal.",
                Verdict.CAUTION: "It compresses another fracture on its way, {measured} off its "
                "normal, past the taught {limit}: those fragments may slide. Hold them with "
                "forceps while tightening, or turn the axis.",
                Verdict.FAIL: "It compresses another fracture on its way, {measured} off its "
                "normal: "
                "past {limit} those fragments slide.",
            },
        ),
    ]


def _joined(screws: Trajectories, zones: Sequence[Zone]) -> Bools:
    """Whether each axis joins the two fragments of its zone."""
    lines = screws.corridors.ring + 1
    depth = np.full((len(screws), lines), np.nan)
    joined = np.ones(len(screws), dtype=np.bool_)
    depth[:, 0] = screws.crossing.axis
    for number, zone in enumerate(zones):
        rows = screws.crossing.zone == number
        if rows.any():
            found = joins_pair(zone, screws.corridors.solid, depth.ravel())
            joined[rows] = found.reshape(-1, lines)[rows, 0]
    return joined


def _passed(screws: Trajectories, zones: Sequence[Zone]) -> tuple[Floats, Floats]:
    """Deepest crossing of each pair's fracture, and the tilt to it; NaN where not passed.

    Both are (pairs, n). A ring counts where any of its lines crosses the surface between the
    fragments before the tip; of several zones of a pair, the one crossed most squarely.
    """
    pairs = sorted({zone.fragments for zone in zones if zone.fragments is not None})
    n = len(screws)
    deep, slant = np.full((len(pairs), n), np.nan), np.full((len(pairs), n), np.nan)
    if len(pairs) < 2:  # a single fracture is every screw's own
        return deep, slant
    corridors = screws.corridors
    axes, ring = corridors.axes, corridors.ring
    origin, direction = bundle(axes, corridors.radius[:, None], ring, with_axis=True)
    tip = np.repeat(screws.tip, ring + 1)
    for row, pair in enumerate(pairs):
        other = np.array([zone.fragments != pair for zone in zones])[screws.crossing.zone]
        for zone in zones:
            if zone.fragments != pair:
                continue
            depth, met = fracture_depth(zone, origin, direction)
            depth[~(met & (depth > 0.0) & (depth < tip))] = np.nan
            deepest = np.fmax.reduce(depth.reshape(n, ring + 1), axis=1)
            cosine = np.abs(axes.direction @ zone.plane.normal)
            tilt = np.degrees(np.arccos(np.clip(cosine, 0.0, 1.0)))
            passed = other & np.isfinite(deepest)
            deep[row] = np.where(passed, np.fmax(deep[row], deepest), deep[row])
            slant[row] = np.where(passed, np.fmin(slant[row], tilt), slant[row])
    return deep, slant
