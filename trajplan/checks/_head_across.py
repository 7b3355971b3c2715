"""Whether the head, or its washer, lies across the fracture line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade
from trajplan.fracture import distance_to_outline, outline
from trajplan.geometry import segment_segment_distance
from trajplan.trajectory import Technique

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.arrays import Floats, Vec3s
    from trajplan.checks._limits import Limits
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["head_across"]


def head_across(screws: Trajectories, _limits: Limits, zones: Sequence[Zone]) -> Ruling:
    """Fail a lag screw whose head, or washer, bears on both sides of the fracture line.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    zones : sequence of Zone
        Zones of the fracture; the nearest line of any of them counts.

    Returns
    -------
    Ruling
        Measures mm from the rim of what bears on the bone to the fracture line on its outer
        surface; negative: across. Does not apply to position screws, which close nothing, nor
        to a head in the hole of a plate.

    Notes
    -----
    The bone under a head or washer of radius ``r`` lies no deeper and no higher than ``r``
    from the entry, so that stretch of the axis is measured against the line, segment by
    segment. A line further than ``2 r`` from the entry cannot come under the rim, and is
    measured from the entry.
    """
    lag = screws.technique != Technique.POSITION
    radius = np.where(screws.washered, screws.washer_diameter, screws.dims.head) / 2.0
    spare = _to_line(screws, zones, radius) - radius
    verdict, limit = grade(
        spare, fail_below=0.0, applies=screws.corridors.hit & lag & ~screws.seats.plated
    )
    washered = screws.washered
    return Ruling(
        rule="head_across",
        verdict=verdict,
        measured=spare,
        limit=limit,
        unit="mm",
        source="geometry: what bears on both fragments holds their distance (common practice)",
        sentences={
            Verdict.PASS: "The rim of the {remark} keeps {measured} from the fracture line.",
            Verdict.FAIL: "The {remark} ends {measured} from the fracture line.",
            Verdict.UNKNOWN: "How far the {remark} lies from the fracture line cannot be told.",
        },
        below={
            Verdict.FAIL: "The {remark} lies across the fracture line, its rim {measured} past it: "
            "it bears on both fragments and nothing closes."
        },
        remark=lambda i: "washer" if washered[i] else "head",
    )


def _to_line(screws: Trajectories, zones: Sequence[Zone], radius: Floats) -> Floats:
    """Distance from the axis near the entry to the fracture line, (n,) mm."""
    axes = screws.corridors.axes
    # Zones of one surface share its fracture line: look at it once.
    lines = {id(zone.rim) if zone.rim else id(zone): zone for zone in zones}.values()
    least: Floats = np.minimum.reduce([distance_to_outline(zone, axes.origin) for zone in lines])
    near = np.flatnonzero(screws.corridors.hit & (least < 2.0 * radius))
    if len(near) == 0:
        return least
    start, end = _segments(lines)
    half = 0.5 * np.linalg.norm(end - start, axis=1)
    entry, reach = axes.origin[near], radius[near]
    away = np.linalg.norm(entry[:, None] - 0.5 * (start + end), axis=2)
    row, part = np.nonzero(away <= (least[near] + reach)[:, None] + half)
    along = reach[:, None] * axes.direction[near]
    apart = segment_segment_distance(
        (entry - along)[row], (entry + along)[row], start[part], end[part]
    )
    least[near] = np.minimum.reduceat(apart, np.searchsorted(row, np.arange(len(near))))
    return least


def _segments(zones: Iterable[Zone]) -> tuple[Vec3s, Vec3s]:
    """Ends of the straight parts of all fracture lines, (m, 3) each."""
    rings = [ring for zone in zones for ring in outline(zone)]
    start: Vec3s = np.concatenate([ring[:-1] for ring in rings])
    end: Vec3s = np.concatenate([ring[1:] for ring in rings])
    return start, end
