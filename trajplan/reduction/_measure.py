"""Gap, step, overlap and contact of fragments in any pose, on their real triangles.

*Gap*: from samples of one broken surface to the nearest triangle of the other fragment, both
ways; where bone lies in bone it is 0, and told as overlap. *Step*: height of one outer wall over
the other beside the fracture line, absolute. *Overlap*: depth of samples inside the other
fragment times the area each stands for, the mean of both ways. *Contact*: share of the smaller
break, less what other fragments cover, that is within 0.75 mm of the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.bone import SurfaceDistance, WindingTree, as_surface
from trajplan.reduction._near import nearest
from trajplan.reduction._pair import TOUCH, Pair
from trajplan.reduction._samples import inverse, moved, unit
from trajplan.reduction._types import PairFit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.reduction._samples import Samples
    from trajplan.reduction._types import Fragment

__all__ = ["Body", "Seen", "measure_pairs", "steps"]

#: mm: broken surfaces farther apart than this do not belong together.
REACH = 5.0
#: Cosine at which two broken surfaces face each other.
FACING = -0.5
#: mm²: fragments that face each other on less do not meet.
LEAST_AREA = 6.0
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
#: Share of the wall beside the line whose step is called the largest: the last hundredth is noise.
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
    bulk: Ints  # rows of samples that may lie in another fragment
    bulk_share: float  # samples for each one of `bulk`

    @classmethod
    def of(cls, fragment: Fragment, samples: Samples, bulk: Ints) -> Body:
        """Build the trees of a fragment."""
        distance = SurfaceDistance.of(
            as_surface((fragment.vertices, fragment.faces), name=fragment.name)
        )
        a, b, c = distance.triangles.transpose(1, 0, 2)
        step = max(1, -(-len(bulk) // BULK))
        return cls(
            samples, distance, unit(np.cross(b - a, c - a)), fragment.vertices.min(axis=0),
            fragment.vertices.max(axis=0), WindingTree(fragment.vertices, fragment.faces),
            cKDTree(samples.points), bulk[::step], float(step),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What one fragment's break sees of another fragment, in one pose."""

    pose: Floats  # (4, 4) of the one, beside the other as it lies
    facing: Bools  # (k,) of the break's samples
    gap: Floats  # (k,) mm, 0 where bone lies in bone
    overlap: float  # mm³


def measure_pairs(
    bodies: Sequence[Body],
    poses: Sequence[Floats],
    pairs: dict[tuple[int, int], Pair],
    seen: dict[tuple[int, int], Seen] | None = None,
) -> list[PairFit]:
    """Measure how fragments fit.

    Parameters
    ----------
    bodies : sequence of Body
        The fragments.
    poses : sequence of (4, 4) float array
        Of each, from as it lies.
    pairs : dict
        The sampled pairs, by the numbers of their fragments, lower first.
    seen : dict, optional
        Filled here, and asked by the next call: pairs that did not move are not looked at again.

    Returns
    -------
    list of PairFit
        Of fragments that face each other; certainty not measured.
    """
    seen = {} if seen is None else seen
    for i, j in permutations(range(len(bodies)), 2):
        pose = inverse(poses[j]) @ poses[i]
        if (i, j) not in seen or not np.array_equal(seen[i, j].pose, pose):
            seen[i, j] = _look(bodies[i], bodies[j], pose)
    return [
        fit
        for (i, j), pair in pairs.items()
        if (fit := _pair_fit(bodies, poses, seen, pair, i, j)) is not None
    ]


def _look(one: Body, other: Body, pose: Floats) -> Seen:
    """Lay samples of one fragment on another; `pose` takes the one to where the other lies."""
    broken = np.flatnonzero(one.samples.broken)
    facing = np.zeros(len(broken), dtype=np.bool_)
    gap = np.full(len(broken), np.inf)
    points = moved(pose, one.samples.points)
    near = np.all((points > other.low - NEAR) & (points < other.high + NEAR), axis=1)
    rows = np.flatnonzero(near[broken])
    within = REACH + COVERED * other.samples.spacing
    rows = rows[np.isfinite(nearest(other.tree, points[broken[rows]], within)[0])]
    normals = one.samples.normals @ pose[:3, :3].T
    if len(rows):
        height, away, face = _heights(other, points[broken[rows]])
        looks = np.einsum("ij,ij->i", normals[broken[rows]], other.normals[face]) < FACING
        facing[rows] = looks & (away < REACH)
        gap[rows] = np.where(height > 0.0, away, 0.0)
    bulk = one.bulk[near[one.bulk]]
    # past a sharp edge the nearest triangle looks away from a point outside: wound round?
    bulk = bulk[other.winding.number(points[bulk]) > INSIDE]
    overlap = 0.0
    if len(bulk):
        height, away, _ = _heights(other, points[bulk])
        deep = (height < -SHALLOW) & (-height > SQUARE * away)
        overlap = -one.bulk_share * float(one.samples.areas[bulk[deep]] @ height[deep])
    return Seen(pose, facing, gap, overlap)


def _heights(body: Body, points: Vec3s) -> tuple[Floats, Floats, Ints]:
    """Heights of points over the nearest triangle, distances from it, and which it is."""
    square, face, nearest = body.distance.tree.nearest(points)
    height = np.einsum("ij,ij->i", points - nearest, body.normals[face])
    return height, np.sqrt(square), face


def _pair_fit(
    bodies: Sequence[Body], poses: Sequence[Floats], seen: dict[tuple[int, int], Seen],
    pair: Pair, i: int, j: int,
) -> PairFit | None:  # fmt: skip
    gaps, areas, faced, touched, open_ = [], [], [], [], []
    for one, other in ((i, j), (j, i)):
        samples, look = bodies[one].samples, seen[one, other]
        area = samples.areas[samples.broken]
        gaps.append(look.gap[look.facing])
        areas.append(area[look.facing])
        faced.append(float(area[look.facing].sum()))
        touched.append(float(area[look.facing & (look.gap < TOUCH)].sum()))
        taken = np.zeros(len(area), dtype=np.bool_)
        for k in range(len(bodies)):
            if k not in (one, other):
                taken |= seen[one, k].facing
        open_.append(float(area[~taken | look.facing].sum()) if samples.shaft else faced[-1])
    if min(faced) < LEAST_AREA:
        return None
    gap, area = np.concatenate(gaps), np.concatenate(areas)
    if not (bodies[i].samples.shaft and bodies[j].samples.shaft):
        # what of a wedge faces another fragment is no outer wall
        pair = pair.walled(*(_wall(bodies, seen, number) for number in (i, j)))
    _, heights, beside = _walls(pair, poses, i, j)
    return PairFit(
        first=i,
        second=j,
        gap_mean=float(np.average(gap, weights=area)),
        gap_90=_quantile(gap, area, 0.9),
        gap_largest=float(gap.max()),
        step_mean=float(np.average(heights, weights=beside)) if len(heights) else np.nan,
        step_largest=_quantile(heights, beside, LARGEST) if len(heights) else np.nan,
        overlap=0.5 * (seen[i, j].overlap + seen[j, i].overlap),
        contact=min(1.0, 0.5 * sum(touched) / max(min(open_), 1.0)),
    )


def steps(poses: Sequence[Floats], pairs: dict[tuple[int, int], Pair]) -> tuple[Vec3s, Floats]:
    """Places of the outer walls beside the fracture lines, (n, 3) mm, and the step at each, mm."""
    points, heights = [np.zeros((0, 3))], [np.zeros(0)]
    for (i, j), pair in pairs.items():
        halfway, step, _ = _walls(pair, poses, i, j)
        points.append(moved(poses[i], halfway))
        heights.append(step)
    return np.concatenate(points), np.concatenate(heights)


def _walls(pair: Pair, poses: Sequence[Floats], i: int, j: int) -> tuple[Vec3s, Floats, Floats]:
    """Places beside the line as the first fragment lies, heights there, absolute, and mm² each."""
    links = pair.wall_links(inverse(poses[i]) @ poses[j])
    return 0.5 * (links.moving + links.standing), np.abs(links.height), links.weight


def _wall(bodies: Sequence[Body], seen: dict[tuple[int, int], Seen], number: int) -> Bools:
    """Samples of a fragment that may be outer wall: of a wedge, what faces no other."""
    samples = bodies[number].samples
    wall = samples.wall.copy()
    if samples.shaft is None:
        rows = np.flatnonzero(samples.broken)
        for other in range(len(bodies)):
            if other != number:
                wall[rows[seen[number, other].facing]] = False
    return wall


def _quantile(values: Floats, weights: Floats, share: float) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, share * total[-1])])
