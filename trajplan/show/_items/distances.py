"""Clearances of a screw as lines between the places that are nearest."""

from __future__ import annotations

from functools import partial
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import nearest_point
from trajplan.checks import clearance, cylinders, pair_gap, wire_clearance, wire_path
from trajplan.geometry import segment_segment_distance
from trajplan.show._items.item import line

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Vec3, Vec3s
    from trajplan.planner import Assessment, Setup, Wires
    from trajplan.show._items.item import Item

__all__ = ["distance_items", "wire_distance_items"]

#: Places tried on each part of a screw, and how often round the best of them.
PLACES = 65
ROUNDS = 4


def distance_items(setup: Setup, answer: Assessment, row: int) -> list[Item]:
    """Draw how far a screw stays from each obstacle and from each other screw.

    Parameters
    ----------
    setup : Setup
        The case.
    answer : Assessment
        The screws as they were worked out.
    row : int
        Row of the screw.

    Returns
    -------
    list of Item
        A line and a label for each; the label gives the clearance that the rules measure, the
        line where it is found. Nothing where the screw has no place in the bone.
    """
    screws = answer.screws
    if not np.isfinite(screws.tip[row]):
        return []
    mine = [(a[row], b[row], float(r[row])) for a, b, r in cylinders(screws)]
    items: list[Item] = []
    for obstacle in setup.around.obstacles:
        gap = float(clearance(screws, obstacle).measured[row])
        ends = _nearest(mine, partial(nearest_point, obstacle.distance), 0.0)
        items += _measured(answer.ids[row], obstacle.name, ends, gap)
    parts = cylinders(screws)
    for other in np.flatnonzero(np.isfinite(screws.tip)):
        if other == row:
            continue
        gap = float(pair_gap(parts, np.array([row]), np.array([other]))[0])
        theirs = [(a[other], b[other], float(r[other])) for a, b, r in parts]
        pairs = [_nearest(mine, partial(_onto, part), part[2]) for part in theirs]
        ends = min(pairs, key=lambda pair: float(np.linalg.norm(pair[1] - pair[0])))
        items += _measured(answer.ids[row], answer.ids[other], ends, gap)
    return items


def wire_distance_items(setup: Setup, wires: Wires, answer: Assessment, row: int) -> list[Item]:
    """Draw how far wires stay from each obstacle, from one another, and from a screw.

    Parameters
    ----------
    setup : Setup
        The case.
    wires : Wires
        Wires of the plan.
    answer : Assessment
        The screws as they were worked out.
    row : int
        Row of the screw that is picked.

    Returns
    -------
    list of Item
        As from `distance_items`; to an obstacle the label gives what the rule measures.
    """
    start, end = wire_path(wires.paths, setup.limits)
    parts = [
        (a, b, float(d) / 2.0) for a, b, d in zip(start, end, wires.paths.diameter, strict=True)
    ]
    items: list[Item] = []
    for obstacle in setup.around.obstacles:
        gaps = wire_clearance(wires.paths, obstacle, setup.limits).measured
        foot = partial(nearest_point, obstacle.distance)
        for name, part, gap in zip(wires.ids, parts, gaps, strict=True):
            items += _measured(name, obstacle.name, _nearest([part], foot, 0.0), float(gap))
    for (one, first), (other, second) in combinations(zip(wires.ids, parts, strict=True), 2):
        items += _between(one, [first], other, second)
    if np.isfinite(answer.screws.tip[row]):
        mine = [(a[row], b[row], float(r[row])) for a, b, r in cylinders(answer.screws)]
        for name, part in zip(wires.ids, parts, strict=True):
            items += _between(answer.ids[row], mine, name, part)
    return items


def _between(
    name: str,
    parts: list[tuple[Vec3, Vec3, float]],
    other: str,
    wire: tuple[Vec3, Vec3, float],
) -> list[Item]:
    """A line between round-ended cylinders and a wire, labelled by its exact length."""
    gap = min(
        float(segment_segment_distance(a, b, wire[0], wire[1])) - r - wire[2] for a, b, r in parts
    )
    return _measured(name, other, _nearest(parts, partial(_onto, wire), wire[2]), gap)


def _measured(name: str, other: str, ends: tuple[Vec3, Vec3], gap: float) -> list[Item]:
    if not np.isfinite(gap):
        return []
    title = f"{name} to {other}"
    if gap <= 0.0:
        return [line(f"{title} label", "distance", [ends[0]], f"{other}: touches")]
    middle = (ends[0] + ends[1]) / 2.0
    return [
        line(title, "distance", np.stack(ends)),
        line(f"{title} label", "distance", [middle], f"{gap:.1f} mm, {other}"),
    ]


def _nearest(
    parts: list[tuple[Vec3, Vec3, float]], foot: Callable[[Vec3s], Vec3s], other: float
) -> tuple[Vec3, Vec3]:
    """Surface point of round-ended cylinders, and the place of something else, nearest."""
    best, ends = np.inf, None
    for start, end, radius in parts:
        low, high = 0.0, 1.0
        for _ in range(ROUNDS):
            share = np.linspace(low, high, PLACES)
            at = start + share[:, None] * (end - start)
            feet = foot(at)
            apart = np.linalg.norm(feet - at, axis=1)
            i = int(apart.argmin())
            low, high = share[max(i - 1, 0)], share[min(i + 1, PLACES - 1)]
        away = (feet[i] - at[i]) / max(float(apart[i]), 1e-12)
        if apart[i] - radius < best:
            best, ends = apart[i] - radius, (at[i] + radius * away, feet[i] - other * away)
    assert ends is not None
    return ends


def _onto(part: tuple[Vec3, Vec3, float], points: Vec3s) -> Vec3s:
    """Nearest points of a segment."""
    start, end, _ = part
    along = end - start
    square = float(along @ along)
    share = np.clip((points - start) @ along / (square or 1.0), 0.0, 1.0)
    out: Vec3s = start + share[:, None] * along
    return out
