"""What makes one candidate better than another; all shares from 0 to 1."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Verdict
from trajplan.fracture import distance_to_outline
from trajplan.trajectory import Technique

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.checks import Limits, Ruling
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["WEIGHTS", "bone_on_the_way", "hold_share", "pair_scores", "score_shares", "scores"]

#: Weight of each share in a candidate's score (the planner's own choice, not a standard).
WEIGHTS = {
    "square": 3.0,  # how square the axis stands on the fracture, its zone and its surface
    "purchase": 2.0,  # turns of thread beyond it
    "fragments": 2.5,  # how much bone of either fragment lies on the way
    "beside": 2.5,  # bone beside the screw where it crosses the fracture
    "edge": 1.5,  # bone between hole and fracture line
    "entry": 1.5,  # how square the drill meets the surface
    "clearance": 1.0,  # room to joint surfaces and structures
    "seat": 1.5,  # how much of the head's rim bears
}
#: Taken off for every caution, and for everything unknown, of a candidate or a pair: more than
#: a better place is worth, so that what needs no decision is planned first.
CAUTION_COST = 0.3
#: Weight of a pair's spread over the fracture, against a candidate's whole score of 1.
SPREAD_WEIGHT = 0.6
#: Added for a pair that closes fractures between different fragments: each needs a screw.
OTHER_WEIGHT = 0.4
#: Taken off for a pair that is drilled from sides far apart: a second approach to the bone.
OPPOSITE_COST = 0.2
#: Taken off for a pair that crosses one flat fracture at an angle to each other of
#: `ASKEW_ANGLE` or more: a fragment glides along one of them only, so that the second to be
#: tightened presses less, and the fragments cannot settle (parallel screws: AO Foundation,
#: online surgery reference, femoral neck, cancellous screws; how much it costs: a choice).
ASKEW_COST = 0.3
ASKEW_ANGLE = 20.0
#: Share of the fracture's length past which more spread brings nothing more.
SPREAD_ENOUGH = 0.4
#: Thread diameters of a fragment on a screw's way past which more brings nothing more: the least
#: width of a fragment that is fixed by a screw alone (AO manual of hand fixation, from memory).
THICK_ENOUGH = 3.0
#: Weight of what the thread holds in the bone of a CT, beside the others (the planner's own
#: choice); hold, N, from which on it counts, and past which more brings nothing more (a choice:
#: small screws in soft bone hold 50 N, large ones in sound cortex 5,000).
BONE_WEIGHT = 4.0
HOLD_LEAST, HOLD_MOST = 50.0, 5000.0


def scores(
    screws: Trajectories,
    rulings: Sequence[Ruling],
    limits: Limits,
    zones: Sequence[Zone],
    hand: float,
    hold: Floats | None = None,
) -> Floats:
    """Score each screw from its own numbers.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws that fail no rule.
    rulings : sequence of Ruling
        Every rule's answer for them.
    limits : Limits
        Limits of the rules.
    zones : sequence of Zone
        Zones of the fracture.
    hand : float, mm
        Error of a hand at the entry: a clearance with less to spare costs as a caution does, and so
        does a partial thread that begins within ``thread_clear`` of the fracture.
    hold : (n,) float array, N, optional
        What each holds in the bone that a CT shows.

    Returns
    -------
    (n,) float array
        About 0 to 1; cautions take `CAUTION_COST` each.
    """
    total = np.zeros(len(screws))
    for name, share in score_shares(screws, rulings, limits, zones).items():
        total += WEIGHTS[name] * share
    whole = sum(WEIGHTS.values())
    if hold is not None:
        total += BONE_WEIGHT * hold_share(hold)
        whole += BONE_WEIGHT
    cautions = np.zeros(len(screws))
    for ruling in rulings:
        cautions += (ruling.verdict == Verdict.CAUTION) | (ruling.verdict == Verdict.UNKNOWN)
    cautions += _near_a_clearance(rulings, len(screws), hand)
    cautions += _thread_at_the_fracture(screws, limits)
    scored: Floats = total / whole - CAUTION_COST * cautions
    return scored


def score_shares(
    screws: Trajectories, rulings: Sequence[Ruling], limits: Limits, zones: Sequence[Zone]
) -> dict[str, Floats]:
    """What each screw is good for, one share from 0 to 1 for each of `WEIGHTS`.

    Parameters
    ----------
    screws, rulings, limits, zones
        As for `scores`.

    Returns
    -------
    dict of str to (n,) float array
    """
    by_rule = {ruling.rule: ruling for ruling in rulings}
    planned = limits.planned_tilt
    off_square = (
        by_rule["aim"].measured
        if "aim" in by_rule
        else np.fmax(screws.crossing.tilt, by_rule["local_tilt"].measured)
    )  # NaN: no surface
    shares = {
        "square": 1.0 - off_square / max(planned, 1e-9),
        "purchase": _hold(screws, limits),
        "fragments": np.minimum(*bone_on_the_way(screws)) / (THICK_ENOUGH * screws.dims.thread),
        "beside": _beside(screws, zones) / screws.dims.thread,
        "edge": by_rule["fracture_edge"].measured / (2.0 * limits.edge_wanted * screws.dims.thread),
        "entry": 1.0 - screws.entry_angle / limits.entry_angle_most,
        "clearance": _clearance_share(rulings, len(screws)),
        "seat": screws.seats.rim_contact,
    }
    return {
        name: np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0) for name, share in shares.items()
    }


def hold_share(hold: Floats) -> Floats:
    """Full at `HOLD_MOST`; twice the hold is worth the same at any strength, the unknown nothing.

    Parameters
    ----------
    hold : (n,) float array, N
        What threads hold in the bone of a CT.

    Returns
    -------
    (n,) float array
    """
    share = np.log(hold / HOLD_LEAST) / np.log(HOLD_MOST / HOLD_LEAST)
    clipped: Floats = np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0)
    return clipped


def _hold(screws: Trajectories, limits: Limits) -> Floats:
    """Full at twice the turns wanted on the thickest screw there is to choose from.

    Turns alone would prefer thin screws, whose pitch is finer, and they do not hold better
    for it: the thread's area grows with its diameter.
    """
    thickest = max(screw.thread_diameter for screw in screws.dims.kinds)
    turns = np.clip(screws.turns / (2.0 * limits.turns_wanted), 0.0, 1.0)
    share: Floats = turns * screws.dims.thread / thickest
    return share


def bone_on_the_way(screws: Trajectories) -> tuple[Floats, Floats]:
    """Bone of the near and of the far fragment on each screw's way.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws.

    Returns
    -------
    near, far : (n,) float arrays, mm
        From the head to the fracture, and on to where the axis leaves the bone.
    """
    near = screws.crossing.shallow - np.fmax(screws.seats.seat, 0.0)
    return near, screws.corridors.exit - screws.crossing.deep


def _beside(screws: Trajectories, zones: Sequence[Zone]) -> Floats:
    """Bone between the thread and the nearest fracture line, in the fracture, (n,) mm.

    One diameter is wanted of the hole's rim on the surface, and no less inside: nearer, one
    side of the screw is a thin edge, and a line that hands drill may miss the bone.
    """
    points = screws.corridors.axes.at(screws.crossing.axis)
    # Zones of one surface share its fracture line: look at it once.
    lines = {id(zone.rim) if zone.rim else id(zone): zone for zone in zones}.values()
    away: Floats = np.minimum.reduce([distance_to_outline(zone, points) for zone in lines])
    return away - screws.dims.thread / 2.0


def _clearance_share(rulings: Sequence[Ruling], n: int) -> Floats:
    """Least room over all obstacles, full at twice the clearance asked for; none where unknown."""
    near = (r for r in rulings if r.rule.endswith("_clearance"))
    shares = [np.nan_to_num(r.measured, nan=0.0) / (2.0 * r.limit) for r in near]
    least: Floats = np.minimum.reduce([np.ones(n), *shares])
    return least


def _near_a_clearance(rulings: Sequence[Ruling], n: int, hand: float) -> Bools:
    """Whether a hand's own error would bring a screw nearer to something than it may come."""
    near = np.zeros(n, dtype=np.bool_)
    for ruling in rulings:
        if ruling.rule.endswith("_clearance"):
            near |= ruling.measured - ruling.limit < hand  # NaN: not measured
    return near


def _thread_at_the_fracture(screws: Trajectories, limits: Limits) -> Bools:
    """Whether a hand's own error in depth would bring a partial thread across the fracture."""
    clear = screws.bite_from - screws.crossing.deep
    near: Bools = (clear < limits.thread_clear) & (screws.technique == Technique.PARTIAL)
    return near


def pair_scores(
    crossing: Vec3s,
    direction: Vec3s,
    zone: Ints,
    zones: Sequence[Zone],
    spacing: Ruling,
    gap: Ruling,
    apart: float,
) -> Floats:
    """What each pair of candidates brings together: spread, less its cautions.

    Parameters
    ----------
    crossing : (n, 3) float array, mm
        Where each candidate crosses the fracture.
    direction : (n, 3) float array
        Unit direction of each candidate.
    zone : (n,) int array
        Row of ``zones`` that each is to close.
    zones : sequence of Zone
        Zones of the fracture.
    spacing, gap : Ruling
        Answers of `screw_spacing` and `screw_gap` for the pairs of ``np.triu_indices(n, 1)``.
    apart : float, degrees
        Angle between two directions past which they need an approach each.

    Returns
    -------
    (n, n) float array
        Symmetric; minus infinity where a pair fails.
    """
    n = len(crossing)
    first, second = np.triu_indices(n, k=1)
    spread = np.linalg.norm(crossing[first] - crossing[second], axis=1)
    length = max(float(zone.fit.extents[0]) for zone in zones)
    enough = SPREAD_ENOUGH * max(length, 1e-9)
    value = SPREAD_WEIGHT * np.clip(spread / enough, 0.0, 1.0)
    value = value - CAUTION_COST * (spacing.verdict == Verdict.CAUTION)
    part = [zone.fragments for zone in zones]
    fracture = np.array([part.index(fragments) for fragments in part])[zone]
    value = value + OTHER_WEIGHT * (fracture[first] != fracture[second])
    cosine = np.einsum("ij,ij->i", direction[first], direction[second])
    between = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    value = value - OPPOSITE_COST * (between > apart)
    askew = np.clip(np.minimum(between, 180.0 - between) / ASKEW_ANGLE, 0.0, 1.0)
    value = value - ASKEW_COST * askew * (zone[first] == zone[second])
    value = np.where(gap.verdict == Verdict.FAIL, -np.inf, value)
    table = np.zeros((n, n))
    table[first, second] = table[second, first] = value
    return table
