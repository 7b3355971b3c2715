"""Several pieces: the best few ways are carried on together, for only the last piece tells.

Two ends of a shaft with a wedge missing match in part only, and false poses score nearly as
high (measured: 0.35 against 0.36); a way that is second best without the wedge may be the one
that the wedge fits into.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.reduction._coarse import Starts, joined_starts
from trajplan.reduction._fine import Fit, Weights
from trajplan.reduction._labels import calm_radius
from trajplan.reduction._match import FINE, Ranked, match, rank
from trajplan.reduction._near import nearest
from trajplan.reduction._pair import NORMAL, Pair
from trajplan.reduction._samples import Samples, calm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Floats
    from trajplan.reduction._match import Prior
    from trajplan.reduction._samples import Shaft

__all__ = ["Way", "add_piece", "assemble", "beside", "dressed", "settle", "together"]

#: Ways that are carried on.
BEAM = 4
#: mm and cosine: a broken surface so near to another, facing it, is taken and no longer open.
TAKEN, FACING = 2.0, -0.3
#: mm (a radian of the normal as `NORMAL`): a piece's surface so near to another's broken surface,
#: facing it, is broken.
FACED = 3.5
#: Rounds in which each piece is fitted to all others, in turn.
TURNS = 3
TOGETHER = Weights(rounds=14, reach=(2.5, 1.5))
#: mm: how far out of the break the middle of a piece may lie at the start.
OUT = (0.0, 3.0, 6.0)
#: degrees between the turns that a piece is tried in: coarser than for an end, it has less edge.
PIECE_GRID = 18.0
#: Poses of a piece that are fitted well, and samples of it that the search uses.
PIECE_BEST, PIECE_FEW = 6, 110
#: Samples of open break that a piece needs to find its place.
OPEN = 20


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A way to put pieces together."""

    poses: dict[int, Floats]  # of the pieces that are placed, (4, 4) mm
    value: float  # sum of the scores
    rival: dict[int, float]  # of each placed piece: score of the next kind over its own


def together(samples: Sequence[Samples], poses: Sequence[Floats], *, open_only: bool) -> Samples:
    """Placed pieces as one; break that has found its partner is left out if `open_only`."""
    parts = [one.moved(pose) for one, pose in zip(samples, poses, strict=True)]
    owner = np.repeat(np.arange(len(parts)), [len(part.points) for part in parts])
    fields = ("points", "normals", "areas", "broken", "wall", "calm_points", "calm_normals")
    whole = {name: np.concatenate([getattr(part, name) for part in parts]) for name in fields}
    joint = Samples(spacing=parts[0].spacing, shaft=_any_shaft(parts), **whole)
    if not open_only or len(parts) == 1:
        return joint
    broken = joint.broken.copy()
    for number in range(len(parts)):
        mine, rest = np.flatnonzero(broken & (owner == number)), np.flatnonzero(owner != number)
        distance, which = nearest(cKDTree(joint.points[rest]), joint.points[mine])
        facing = np.einsum("ij,ij->i", joint.normals[mine], joint.normals[rest[which]]) < FACING
        broken[mine[(distance < TAKEN) & facing]] = False
    return replace(joint, broken=broken)


def _any_shaft(parts: Sequence[Samples]) -> Shaft | None:
    return next((part.shaft for part in parts if part.shaft is not None), None)


def add_piece(
    standing: Samples, piece: Samples, prior: Prior, hints: Sequence[Starts] = ()
) -> tuple[Pair, list[Ranked]]:
    """Fit a piece without a shaft to the open break of what stands."""
    pair = Pair(standing, piece)
    rows = pair.breaks[0]
    areas = standing.areas[rows]
    middle = np.average(standing.points[rows], axis=0, weights=areas)
    out = areas @ standing.normals[rows]
    out = out / max(float(np.linalg.norm(out)), 1e-9)
    goals = middle + np.array(OUT)[:, None] * out
    source = np.average(piece.points, axis=0, weights=piece.areas)
    starts = [joined_starts(prior.turns(PIECE_GRID), goals, source, 0.4)]
    return pair, rank(pair, [*starts, *hints], prior, PIECE_BEST, PIECE_FEW)


def dressed(samples: Sequence[Samples], poses: dict[int, Floats]) -> list[Samples]:
    """Samples with the pieces without a shaft labelled by what they lie on.

    Of a wedge that is in place, what faces the broken surface of others is broken, and the rest
    is wall; before, any of it may be either.
    """
    placed = {number: samples[number].moved(pose) for number, pose in poses.items()}
    told = list(samples)
    for number, piece in placed.items():
        rest = [other for k, other in placed.items() if k != number]
        if piece.shaft is not None or not rest:
            continue
        points = np.concatenate([other.points[other.broken] for other in rest])
        normals = np.concatenate([other.normals[other.broken] for other in rest])
        tree = cKDTree(np.hstack([points, -NORMAL * normals]))
        off, _ = nearest(tree, np.hstack([piece.points, NORMAL * piece.normals]), FACED)
        broken = np.isfinite(off)
        if min(broken.sum(), (~broken).sum()) < OPEN:
            continue
        labelled = replace(samples[number], broken=broken, wall=~broken)
        told[number] = calm(labelled, calm_radius(piece.spacing))
    return told


def assemble(
    samples: Sequence[Samples], order: Sequence[int], prior: Prior,
    hints: Callable[[int, dict[int, Floats]], list[Starts]],
    told: Callable[[str, float], None], names: Sequence[str],
) -> list[Way]:  # fmt: skip
    """Put pieces together.

    Parameters
    ----------
    samples : sequence of Samples
        Labelled.
    order : sequence of int
        Pieces in the order that they are added; the first stays.
    prior : Prior
        How far a piece may have moved.
    hints : callable
        Starts that hints and a template give for a piece, given the poses of those that are placed.
    told : callable
        Told what is being done, and the share done.
    names : sequence of str
        Names of the pieces.

    Returns
    -------
    list of Way
        Best first; empty where a piece found no place.
    """
    ways = [Way({order[0]: np.eye(4)}, 0.0, {})]
    for step, number in enumerate(order[1:]):
        told(f"fitting {names[number]}", step / (len(order) - 1))
        more = [new for way in ways for new in _grown(samples, way, number, prior, hints)]
        ways = sorted(more, key=lambda way: -way.value)[:BEAM]
    return ways


def _grown(
    samples: Sequence[Samples], way: Way, number: int, prior: Prior,
    hints: Callable[[int, dict[int, Floats]], list[Starts]],
) -> list[Way]:  # fmt: skip
    """Ways with one more piece."""
    placed, piece = list(way.poses), samples[number]
    given = hints(number, way.poses)
    prior = replace(prior, standing=tuple(way.poses.values()))
    standing = together(
        [samples[k] for k in placed], [way.poses[k] for k in placed], open_only=True
    )
    if standing.broken.sum() < OPEN:
        return []
    if piece.shaft is not None and standing.shaft is not None and len(placed) == 1:
        ranked = match(Pair(standing, piece), prior, given)
    else:
        ranked = add_piece(standing, piece, prior, given)[1]
    return [
        Way(
            way.poses | {number: one.pose},
            way.value + one.score.value,
            way.rival | {number: _behind(ranked, one)},
        )
        for one in ranked[:BEAM]
    ]


def _behind(ranked: list[Ranked], one: Ranked) -> float:
    """Score of the best other kind over that of this one."""
    others = [other.score.value for other in ranked if other is not one]
    return max(0.0, max(others, default=0.0)) / max(one.score.value, 1e-9)


def settle(samples: Sequence[Samples], way: Way, still: int) -> Way:
    """Fit each piece to all others, in turn."""
    poses = dict(way.poses)
    for turn in range(TURNS if len(poses) > 2 else 1):
        if turn == TURNS - 1:
            samples = dressed(samples, poses)
        for number in [number for number in poses if number != still]:
            pair = beside(samples, poses, number)
            pair = pair.thinned(FINE) if turn < TURNS - 1 and len(poses) > 2 else pair
            fit = Fit.of(pair, poses[number], TOGETHER)
            if fit is not None:
                poses[number] = fit.pose
    return replace(way, poses=poses)


def beside(samples: Sequence[Samples], poses: dict[int, Floats], number: int) -> Pair:
    """A piece against all others that are placed."""
    rest = [k for k in poses if k != number]
    standing = together([samples[k] for k in rest], [poses[k] for k in rest], open_only=False)
    return Pair(standing, samples[number])
