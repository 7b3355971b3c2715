"""What makes one candidate better than another; all shares from 0 to 1."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks import Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.checks import Limits, Ruling
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["WEIGHTS", "pair_scores", "score_shares", "scores"]

#: Weight of each share in a candidate's score (the planner's own choice, not a standard).
WEIGHTS = {
    "square": 3.0,  # how square the axis stands on the fracture, its zone and its surface
    "purchase": 2.0,  # turns of thread beyond it
    "middle": 1.0,  # how evenly the fracture parts the bone on the way
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
SPREAD_ENOUGH = 0.5


def scores(screws: Trajectories, rulings: Sequence[Ruling], limits: Limits, hand: float) -> Floats:
    """Score each screw from its own numbers.

    Parameters
    ----------
    screws : Trajectories
        ``n`` screws that fail no rule.
    rulings : sequence of Ruling
        Every rule's answer for them.
    limits : Limits
        Limits of the rules.
    hand : float, mm
        Error of a hand at the entry: a clearance with less to spare costs as a caution does.

    Returns
    -------
    (n,) float array
        About 0 to 1; cautions take `CAUTION_COST` each.
    """
    total = np.zeros(len(screws))
    for name, share in score_shares(screws, rulings, limits).items():
        total += WEIGHTS[name] * share
    cautions = np.zeros(len(screws))
    for ruling in rulings:
        cautions += (ruling.verdict == Verdict.CAUTION) | (ruling.verdict == Verdict.UNKNOWN)
    cautions += _near_a_clearance(rulings, len(screws), hand)
    scored: Floats = total / sum(WEIGHTS.values()) - CAUTION_COST * cautions
    return scored


def score_shares(
    screws: Trajectories, rulings: Sequence[Ruling], limits: Limits
) -> dict[str, Floats]:
    """What each screw is good for, one share from 0 to 1 for each of `WEIGHTS`.

    Parameters
    ----------
    screws, rulings, limits
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
        "middle": _evenness(screws),
        "edge": by_rule["fracture_edge"].measured / (2.0 * limits.edge_wanted * screws.dims.thread),
        "entry": 1.0 - screws.entry_angle / limits.entry_angle_most,
        "clearance": _clearance_share(rulings, len(screws)),
        "seat": screws.seats.rim_contact,
    }
    return {
        name: np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0) for name, share in shares.items()
    }


def _hold(screws: Trajectories, limits: Limits) -> Floats:
    """Full at twice the turns wanted on the thickest screw there is to choose from.

    Turns alone would prefer thin screws, whose pitch is finer, and they do not hold better
    for it: the thread's area grows with its diameter.
    """
    thickest = max(screw.thread_diameter for screw in screws.dims.kinds)
    turns = np.clip(screws.turns / (2.0 * limits.turns_wanted), 0.0, 1.0)
    share: Floats = turns * screws.dims.thread / thickest
    return share


def _evenness(screws: Trajectories) -> Floats:
    """1 where the fracture lies halfway between entry and exit, 0 at either end."""
    way = screws.crossing.axis / screws.corridors.exit
    even: Floats = 2.0 * np.minimum(way, 1.0 - way)
    return even


def _clearance_share(rulings: Sequence[Ruling], n: int) -> Floats:
    """Least room over all obstacles, full at twice the clearance asked for."""
    shares = [r.measured / (2.0 * r.limit) for r in rulings if r.rule.endswith("_clearance")]
    least: Floats = np.minimum.reduce([np.ones(n), *shares])
    return least


def _near_a_clearance(rulings: Sequence[Ruling], n: int, hand: float) -> Bools:
    """Whether a hand's own error would bring a screw nearer to something than it may come."""
    near = np.zeros(n, dtype=np.bool_)
    for ruling in rulings:
        if ruling.rule.endswith("_clearance"):
            near |= ruling.measured - ruling.limit < hand  # NaN: not measured
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
