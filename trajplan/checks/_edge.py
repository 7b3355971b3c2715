"""How far the hole stays from the fracture line on the bone's surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Ruling, Verdict, grade
from trajplan.fracture import distance_to_outline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.checks._limits import Limits
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["fracture_edge"]


def fracture_edge(screws: Trajectories, limits: Limits, zones: Sequence[Zone]) -> Ruling:
    """Judge the bone left between a screw's hole and the fracture line.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.
    limits : Limits
        ``edge_least`` fails, ``edge_wanted`` cautions, both in thread diameters.
    zones : sequence of Zone
        Zones of the fracture; the nearest line of any of them counts.

    Returns
    -------
    Ruling
        Measures mm from the rim of the hole to the fracture line on the outer surface, at
        the entry or, for a screw that comes out, at the exit, whichever is less.
    """
    corridors = screws.corridors
    hit = corridors.hit
    axes = corridors.axes
    # Zones of one surface share its fracture line: look at it once.
    lines = {id(zone.rim) if zone.rim else id(zone): zone for zone in zones}.values()
    ends = (axes.origin, axes.at(np.nan_to_num(corridors.exit, nan=0.0)))
    at_entry, at_exit = (
        np.minimum.reduce([distance_to_outline(zone, points) for zone in lines]) for points in ends
    )
    near = np.where(screws.bicortical, np.minimum(at_entry, at_exit), at_entry)
    gap = np.where(hit, near - screws.dims.thread / 2.0, np.nan)
    verdict, limit = grade(
        gap,
        fail_below=limits.edge_least * screws.dims.thread,
        caution_below=limits.edge_wanted * screws.dims.thread,
        applies=hit,
    )
    return Ruling(
        rule="fracture_edge",
        verdict=verdict,
        measured=gap,
        limit=limit,
        unit="mm",
        source="AO Foundation, online surgery reference, lag screw fixation (small animal): at "
        "least one screw diameter; half of it fails: assumption",
        sentences={
            Verdict.PASS: "The hole keeps {measured} of bone to the fracture line.",
            Verdict.CAUTION: "Only {measured} of bone is left between the hole and the fracture "
            "line; one thread diameter is {limit}: the edge may chip. Decide whether a thinner "
            "screw, or one further from the line, does better.",
            Verdict.FAIL: "Only {measured} of bone is left between the hole and the fracture line: "
            "the edge will break ({limit} is the least).",
            Verdict.UNKNOWN: "The distance to the fracture line cannot be told.",
        },
        below={
            Verdict.FAIL: "The hole reaches {measured} past the fracture line: no edge is left "
            "({limit} is the least)."
        },
    )
