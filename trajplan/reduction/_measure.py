"""Gap, step, overlap and contact of fragments in any pose, on their real triangles.

*Gap*: from samples of one broken surface to the nearest triangle of the other fragment, both
ways, where that lies before the sample; where bone lies in bone it is 0, and told as overlap.
*Step*: see `_rims`. *Overlap*: depth of samples inside the other fragment times the area each
stands for, the mean of both ways. *Contact*: share of the smaller break, less what other
fragments cover, that is within 0.75 mm of the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations, permutations
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.bone import SurfaceDistance, WindingTree, as_surface
from trajplan.reduction._near import nearest
from trajplan.reduction._pair import TOUCH, around, beside_line
from trajplan.reduction._rims import Rim, heights
from trajplan.reduction._samples import inverse, moved, unit
from trajplan.reduction._types import PairFit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.reduction._samples import Samples
    from trajplan.reduction._types import Fragment

__all__ = ["Body", "Kept", "measure_pairs", "steps"]

#: mm: broken surfaces farther apart than this do not belong together.
REACH = 5.0
#: Cosine at which two broken surfaces face each other.
FACING = -0.5
#: Cosine to its own normal at which what a sample faces lies before it; else it is the edge of a
#: break that is seen from its wall, or from across the canal.
BEFORE = 0.5
#: A fragment that is so many times as far as the nearest one is none that a sample faces: a break
#: beside a ridge looks through the fragment that it fits at the next one.
MUCH = 2.0
#: mm²: fragments that face each other on less do not meet, unless so much of one's surface (share)
#: lies inside the other: what lies in bone faces nothing.
LEAST_AREA, LEAST_INSIDE = 6.0, 0.1
#: Samples of a fragment that are looked at for bone in bone: enough for a fifth of a mm³.
BULK = 2500
#: mm: a fragment's box is widened by this before it is asked what lies near it.
NEAR = REACH
#: Cells from any place of a surface within which one of its samples lies.
COVERED = 3.0
#: Share of the way to the nearest triangle that must run along its normal to be inside by it.
SQUARE = 0.7
#: mm: bone in bone less deep is rounding of edges and noise.
SHALLOW = 0.2
#: Winding number from which a point is inside.
INSIDE = 0.5
#: Share of a break, or of the wall beside its line, whose gap or step is called the largest: the
#: last hundredth is noise.
LARGEST = 0.99


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A fragment made ready for measuring, in its own coordinates as it lies."""

    samples: Samples  # labelled
    distance: SurfaceDistance
    normals: Vec3s  # (f, 3) unit, of `distance.faces`
    low: Floats  # (3,) mm
    high: Floats
    winding: WindingTree
    tree: cKDTree  # of the samples: tells cheaply what lies nowhere near
    rows: Ints  # (k,) samples that may face another fragment: broken, and wall beside the line
    bulk: Ints  # rows of samples that may lie in another fragment
    bulk_share: float  # samples for each one of `bulk`

    @classmethod
    def of(cls, fragment: Fragment, samples: Samples) -> Body:
        """Build the trees of a fragment."""
        distance = SurfaceDistance.of(
            as_surface((fragment.vertices, fragment.faces), name=fragment.name)
        )
        a, b, c = distance.triangles.transpose(1, 0, 2)
        bulk = around(samples)
        step = max(1, -(-len(bulk) // BULK))
        return cls(
            samples, distance, unit(np.cross(b - a, c - a)), fragment.vertices.min(axis=0),
            fragment.vertices.max(axis=0), WindingTree(fragment.vertices, fragment.faces),
            cKDTree(samples.points),
            np.union1d(np.flatnonzero(samples.broken), beside_line(samples)),
            bulk[::step], float(step),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What the samples of one fragment see of another, in one pose."""

    pose: Floats  # (4, 4) of the one, beside the other as it lies
    gap: Floats  # (s,) mm, 0 where bone lies in bone; infinite where it does not face the other
    overlap: float  # mm³
    inside: float  # 0..1, share of the one's surface round its break


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What was measured last: what did not move since is not measured again."""

    seen: dict[tuple[int, int], Seen] = field(default_factory=dict)  # by looker and other
    rims: dict[tuple[int, int], tuple[Rim, Rim]] = field(default_factory=dict)  # lower number first


def measure_pairs(
    bodies: Sequence[Body], poses: Sequence[Floats], kept: Kept | None = None
) -> list[PairFit]:
    """Measure how fragments fit.

    Parameters
    ----------
    bodies : sequence of Body
        The fragments.
    poses : sequence of (4, 4) float array
        Of each, from as it lies.
    kept : Kept, optional
        Filled here, and asked by the next call.

    Returns
    -------
    list of PairFit
        Of fragments that face each other; certainty not measured.
    """
    kept = _looked(bodies, poses, kept)
    fits = (_pair_fit(bodies, poses, kept, i, j) for i, j in kept.rims)
    return [fit for fit in fits if fit is not None]


def steps(
    bodies: Sequence[Body], poses: Sequence[Floats], kept: Kept | None = None
) -> tuple[Vec3s, Floats]:
    """Places of the outer walls beside the fracture lines, (n, 3) mm, and the step at each, mm.

    Of the lines that were measured last, where there are any: looking anew is too slow to follow
    a hand.
    """
    if kept is None or not kept.rims:
        kept = _looked(bodies, poses, kept)
    points, told = [np.zeros((0, 3))], [np.zeros(0)]
    for i, j in kept.rims:
        halfway, step, _ = heights(*kept.rims[i, j], inverse(poses[i]) @ poses[j])
        points.append(moved(poses[i], halfway))
        told.append(step)
    return np.concatenate(points), np.concatenate(told)


def _looked(bodies: Sequence[Body], poses: Sequence[Floats], kept: Kept | None) -> Kept:
    """What every fragment sees of every other, and the walls along their lines."""
    kept = Kept() if kept is None else kept
    for i, j in permutations(range(len(bodies)), 2):
        pose = inverse(poses[j]) @ poses[i]
        if (i, j) not in kept.seen or not np.array_equal(kept.seen[i, j].pose, pose):
            kept.seen[i, j] = _look(bodies[i], bodies[j], pose)
    for i, j in combinations(range(len(bodies)), 2):
        kept.rims[i, j] = _rim(bodies, kept, i, j), _rim(bodies, kept, j, i)
    return kept


def _rim(bodies: Sequence[Body], kept: Kept, one: int, other: int) -> Rim:
    """Outer wall of one fragment along its line with another; what faces any is no wall."""
    samples = bodies[one].samples
    looks = [np.isfinite(look.gap) for (k, _), look in kept.seen.items() if k == one]
    met = np.flatnonzero(np.isfinite(kept.seen[one, other].gap))
    return Rim.of(samples, samples.wall & ~np.any(looks, axis=0), met)


def _look(one: Body, other: Body, pose: Floats) -> Seen:
    """Lay samples of one fragment on another; `pose` takes the one to where the other lies."""
    count = len(one.samples.points)
    gap = np.full(count, np.inf)
    points = moved(pose, one.samples.points)
    near = np.all((points > other.low - NEAR) & (points < other.high + NEAR), axis=1)
    rows = one.rows[near[one.rows]]
    reach = REACH + COVERED * other.samples.spacing
    rows = rows[np.isfinite(nearest(other.tree, points[rows], reach)[0])]
    if len(rows):
        way, height, away, face = _heights(other, points[rows])
        normals = one.samples.normals[rows] @ pose[:3, :3].T
        before = np.einsum("ij,ij->i", normals, way) > BEFORE * away
        looks = np.einsum("ij,ij->i", normals, other.normals[face]) < FACING
        looks &= (away < REACH) & (before | (away < TOUCH) | (height <= 0.0))
        gap[rows[looks]] = np.where(height > 0.0, away, 0.0)[looks]
    bulk = one.bulk[near[one.bulk]]
    # past a sharp edge the nearest triangle looks away from a point outside: wound round?
    bulk = bulk[other.winding.number(points[bulk]) > INSIDE]
    overlap, inside = 0.0, 0.0
    if len(bulk):
        _, height, away, _ = _heights(other, points[bulk])
        deep = (height < -SHALLOW) & (-height > SQUARE * away)
        overlap = one.bulk_share * float(one.samples.areas[bulk[deep]] @ -height[deep])
        inside = one.samples.areas[bulk[deep]].sum() / one.samples.areas[one.bulk].sum()
    return Seen(pose, gap, overlap, float(inside))


def _heights(body: Body, points: Vec3s) -> tuple[Vec3s, Floats, Floats, Ints]:
    """Ways to the nearest triangles, heights over them, distances, and which they are."""
    square, face, nearest_one = body.distance.tree.nearest(points)
    way: Vec3s = nearest_one - points
    height = -np.einsum("ij,ij->i", way, body.normals[face])
    return way, height, np.sqrt(square), face


def _met(kept: Kept, one: int, other: int) -> Bools:
    """Samples of one fragment that face another, and none that is much nearer, (s,)."""
    nearest_one = np.min([look.gap for (k, _), look in kept.seen.items() if k == one], axis=0)
    gap = kept.seen[one, other].gap
    met: Bools = np.isfinite(gap) & (gap <= np.maximum(TOUCH, MUCH * nearest_one))
    return met


def _pair_fit(
    bodies: Sequence[Body], poses: Sequence[Floats], kept: Kept, i: int, j: int
) -> PairFit | None:
    gaps, areas, touched, open_ = [], [], [], []
    for one, other in ((i, j), (j, i)):
        samples, look = bodies[one].samples, kept.seen[one, other]
        met = samples.broken & _met(kept, one, other)
        gaps.append(look.gap[met])
        areas.append(samples.areas[met])
        touched.append(float(areas[-1][gaps[-1] < TOUCH].sum()))
        taken = np.zeros(len(met), dtype=np.bool_)
        for third in range(len(bodies)):
            if third not in (one, other):
                taken |= _met(kept, one, third)
        left = samples.broken & (met | ~taken)
        open_.append(float(samples.areas[left if samples.shaft else met].sum()))
    inside = (kept.seen[i, j].inside, kept.seen[j, i].inside)
    if min(area.sum() for area in areas) < LEAST_AREA and max(inside) < LEAST_INSIDE:
        return None
    gap, area = np.concatenate(gaps), np.concatenate(areas)
    _, step, beside = heights(*kept.rims[i, j], inverse(poses[i]) @ poses[j])
    return PairFit(
        first=i,
        second=j,
        gap_mean=_mean(gap, area),
        gap_90=_quantile(gap, area, 0.9),
        gap_largest=_quantile(gap, area, LARGEST),
        step_mean=_mean(step, beside),
        step_largest=_quantile(step, beside, LARGEST),
        overlap=0.5 * (kept.seen[i, j].overlap + kept.seen[j, i].overlap),
        inside=inside,
        contact=min(1.0, 0.5 * sum(touched) / max(min(open_), 1.0)),
    )


def _mean(values: Floats, weights: Floats) -> float:
    """Mean by weight; NaN where there is nothing."""
    return float(np.average(values, weights=weights)) if len(values) else np.nan


def _quantile(values: Floats, weights: Floats, share: float) -> float:
    """Value that this share of the weight stays below; NaN where there is nothing."""
    if not len(values):
        return np.nan
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, share * total[-1])])
