"""Two sampled fragments: what touches what in a pose, and how good that is.

Three things make a fit: broken surface lies on broken surface, the outer wall goes on across
the fracture line, and no bone lies in bone. The second is what plain point matching lacks; it
halves the error (measured on 18 fractures, two starts each: 0.58 to 0.35 mm at the fracture).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.reduction._near import nearest
from trajplan.reduction._samples import moved, unit

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.reduction._samples import Samples

__all__ = [
    "ALIKE", "NORMAL", "WALL_REACH", "Links", "Pair", "Score", "around", "beside_line", "calmed",
    "wall_links", "wall_tree",
]  # fmt: skip

#: mm: two samples are as far apart by this share of a radian between their normals as by 1 mm
#: of way (4 mm for a unit of normal: measured on the prototype, 3 to 6 do as well).
NORMAL = 4.0
#: mm: how far from the fracture line the outer wall counts; further down it says little.
BESIDE = 7.0
#: mm beyond the broken surface that bone in bone is looked for.
AROUND = 25.0
#: Cosine: broken surfaces face each other, outer walls look the same way, at least so squarely.
FACING, ALIKE = 0.5, 0.6
#: mm: how far apart along the wall two samples of the outer wall still are partners.
WALL_REACH = 5.0
#: mm: bone in bone less deep than this is noise of cells.
SHALLOW = 0.4
#: mm: broken surface nearer than this to its partner, along and across, has found it.
TOUCH, BESIDE_TOUCH = 0.75, 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Links:
    """Partners in a pose: rows of one link each."""

    moving: Vec3s  # (k, 3) mm, of the moving fragment, moved
    standing: Vec3s  # (k, 3) mm
    normal: Vec3s  # (k, 3) unit, out of the standing fragment
    weight: Floats  # (k,) mm²
    broken: Bools  # (k,) broken surface; else outer wall

    @property
    def height(self) -> Floats:
        """Along the normal from standing to moving, (k,) mm: gap above zero, overlap below."""
        heights: Floats = np.einsum("ij,ij->i", self.moving - self.standing, self.normal)
        return heights

    @property
    def aside(self) -> Floats:
        """Distance of the partners across the normal, (k,) mm."""
        apart = self.moving - self.standing - self.height[:, None] * self.normal
        distance: Floats = np.linalg.norm(apart, axis=1)
        return distance


@dataclass(frozen=True, slots=True)
class Score:
    """What can be told of a pose without the truth."""

    contact: float  # 0..1
    gap: float  # mm, median
    step: float  # mm, median
    rim: float  # 0..1, share of the wall beside the fracture line that goes on
    overlap: float  # mm³
    area: float  # mm² that could be in contact

    @property
    def value(self) -> float:
        """One number to rank poses: matched break and rim, less overlap."""
        return float(
            self.contact * np.exp(-self.gap / 0.8)
            + 0.5 * self.rim * np.exp(-self.step / 0.6)
            - 0.5 * self.overlap / max(self.area, 1.0)
        )


class Pair:
    """A standing and a moving fragment, made ready for many poses.

    Parameters
    ----------
    standing, moving : Samples
        Labelled and calmed.
    """

    def __init__(self, standing: Samples, moving: Samples) -> None:
        self.standing, self.moving = standing, moving
        self.breaks = tuple(np.flatnonzero(side.broken) for side in (standing, moving))
        self.walls = tuple(beside_line(side) for side in (standing, moving))
        self.bulks = tuple(around(side) for side in (standing, moving))
        self._bulk_tree = cKDTree(standing.points[self.bulks[0]])
        self._grow()

    def _grow(self) -> None:
        """Build the trees of the samples that count."""
        break_a, break_b = self.breaks
        a, b = self.standing, self.moving
        self.break_trees = tuple(
            cKDTree(np.hstack([side.points[rows], -NORMAL * side.normals[rows]]))
            for side, rows in ((a, break_a), (b, break_b))
        )
        points, normals = calmed(a)
        self._wall_tree = wall_tree(points[self.walls[0]], normals[self.walls[0]])

    def kept(self, standing: Bools, moving: Bools) -> Pair:
        """The same pair, with only some of its samples counting."""
        part = object.__new__(Pair)
        part.__dict__.update(self.__dict__)
        keep = (standing, moving)
        part.breaks = tuple(r[k[r]] for r, k in zip(self.breaks, keep, strict=True))
        part.walls = tuple(r[k[r]] for r, k in zip(self.walls, keep, strict=True))
        part._grow()
        return part

    def thinned(self, most: int) -> Pair:
        """The same pair with every so-manieth sample, at most about `most` of each kind."""
        part = object.__new__(Pair)
        part.__dict__.update(self.__dict__)
        part.breaks, part.walls, part.bulks = (
            tuple(rows[:: max(1, len(rows) // most)] for rows in kind)
            for kind in (self.breaks, self.walls, self.bulks)
        )
        part._bulk_tree = self._bulk_tree  # of all samples of the standing fragment
        part.bulks = (self.bulks[0], part.bulks[1])
        part._grow()
        return part

    @property
    def middle(self) -> Vec3:
        """Middle of the moving fragment's broken surface, as it lies, (3,) mm."""
        return self.moving.break_middle

    @property
    def area(self) -> float:
        """Broken surface that could find a partner, mm²."""
        standing, moving = self.standing.break_area, self.moving.break_area
        if self.standing.shaft is not None and self.moving.shaft is not None:
            return min(standing, moving)
        # a piece is broken on the half of its surface that looks inwards, not on its outside
        return max(1.0, min(standing, 0.5 * moving))

    def links(self, pose: Floats, reach: float) -> Links:
        """Partners in a pose, no farther apart than `reach`."""
        parts = [
            self._break_links(pose, reach),
            self._break_links_back(pose, reach),
            self._wall_links(pose),
        ]
        columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
        return Links(*columns)

    def _break_links(self, pose: Floats, reach: float) -> tuple[Floats, ...]:
        a, b = self.standing, self.moving
        (rows_a, rows_b), (tree, _) = self.breaks, self.break_trees
        x, n = moved(pose, b.points[rows_b]), b.normals[rows_b] @ pose[:3, :3].T
        mine, which = _partners(tree, x, n, reach, FACING)
        x, n, y, m = x[mine], n[mine], a.points[rows_a[which]], a.normals[rows_a[which]]
        good = _near(x, y, reach) & (np.einsum("ij,ij->i", n, m) < -FACING)
        areas = b.areas[rows_b[mine]]
        return x[good], y[good], unit(m - n)[good], areas[good], np.ones(good.sum(), np.bool_)

    def _break_links_back(self, pose: Floats, reach: float) -> tuple[Floats, ...]:
        a, b = self.standing, self.moving
        (rows_a, rows_b), (_, tree) = self.breaks, self.break_trees
        turn, shift = pose[:3, :3], pose[:3, 3]
        y, m = (a.points[rows_a] - shift) @ turn, a.normals[rows_a] @ turn
        mine, which = _partners(tree, y, m, reach, FACING)
        y, m, x, n = y[mine], m[mine], b.points[rows_b[which]], b.normals[rows_b[which]]
        good = _near(x, y, reach) & (np.einsum("ij,ij->i", n, m) < -FACING)
        normal = unit(m - n)[good] @ turn.T
        rows = rows_a[mine[good]]
        return (
            moved(pose, x[good]), a.points[rows], normal, a.areas[rows],
            np.ones(good.sum(), np.bool_),
        )  # fmt: skip

    def _wall_links(self, pose: Floats) -> tuple[Floats | Bools, ...]:
        (rows_a, rows_b) = self.walls
        standing, moving = (
            tuple(values[rows] for values in calmed(side))
            for side, rows in ((self.standing, rows_a), (self.moving, rows_b))
        )
        return wall_links(self._wall_tree, standing, moving, self.moving.areas[rows_b], pose)

    def inside(self, pose: Floats, depth: float = SHALLOW) -> tuple[Floats, ...]:
        """Samples of the moving fragment inside the standing one.

        Returns
        -------
        tuple
            Points moved, nearest points of the standing fragment, its normals, mm² each, and
            heights over it (below zero), mm.
        """
        a, b = self.standing, self.moving
        rows = self.bulks[1]
        x = moved(pose, b.points[rows])
        distance, which = nearest(self._bulk_tree, x, 6.0)
        near = np.flatnonzero(np.isfinite(distance))
        which = self.bulks[0][which[near]]
        height = np.einsum("ij,ij->i", x[near] - a.points[which], a.normals[which])
        deep = (height < -depth) & (height < -0.7 * distance[near])
        near, which = near[deep], which[deep]
        return x[near], a.points[which], a.normals[which], b.areas[rows[near]], height[deep]

    def score(self, pose: Floats) -> Score:
        """Rate a pose."""
        links = self.links(pose, 4.0)
        height, aside = np.abs(links.height), links.aside
        close = links.broken & (aside < BESIDE_TOUCH)
        touch = close & (height < TOUCH)
        wall = ~links.broken
        *_, areas, depth = self.inside(pose, SHALLOW + 0.1)
        beside = max(float(self.moving.areas[self.walls[1]].sum()), 1.0)
        return Score(
            contact=0.5 * float(links.weight[touch].sum()) / self.area,
            gap=_median(height[close], links.weight[close]),
            step=_median(height[wall], links.weight[wall]),
            rim=min(1.0, float(links.weight[wall].sum()) / beside),
            overlap=float(-(areas * depth).sum()),
            area=self.area,
        )


def wall_tree(points: Vec3s, normals: Vec3s) -> cKDTree:
    """Tree of an outer wall, by place and normal."""
    return cKDTree(np.hstack([points, NORMAL * normals]))


def wall_links(
    tree: cKDTree, standing: tuple[Vec3s, ...], moving: tuple[Vec3s, ...], areas: Floats,
    pose: Floats,
) -> tuple[Vec3s, Vec3s, Vec3s, Floats, Bools]:  # fmt: skip
    """Columns of `Links` between two outer walls, each as points and normals."""
    x, n = moved(pose, moving[0]), moving[1] @ pose[:3, :3].T
    mine, which = _partners(tree, x, n, WALL_REACH, ALIKE)
    x, n, y, m = x[mine], n[mine], standing[0][which], standing[1][which]
    good = _near(x, y, WALL_REACH) & (np.einsum("ij,ij->i", n, m) > ALIKE)
    # square to the sum of the normals: zero for any two points of one arc
    kept = areas[mine[good]]
    return x[good], y[good], unit(m + n)[good], kept, np.zeros(good.sum(), np.bool_)


def _partners(tree: cKDTree, x: Vec3s, n: Vec3s, reach: float, cosine: float) -> tuple[Ints, Ints]:
    """Rows of samples that have a partner in reach, and the partners' rows in the tree.

    The bound is that of partners `reach` apart whose normals differ by the cosine: nothing that
    counts lies beyond it, and a bounded search is several times as fast.
    """
    bound = np.sqrt(reach**2 + NORMAL**2 * 2.0 * (1.0 - cosine))
    distance, which = nearest(tree, np.hstack([x, NORMAL * n]), float(bound))
    mine = np.flatnonzero(np.isfinite(distance))
    return mine, which[mine]


def _near(x: Vec3s, y: Vec3s, reach: float) -> Bools:
    near: Bools = np.less(((x - y) ** 2).sum(axis=1), reach**2)
    return near


def calmed(samples: Samples) -> tuple[Vec3s, Vec3s]:
    """Points and normals of the calmed outer wall, or as they are where none was calmed."""
    if samples.calm_points is None or samples.calm_normals is None:
        return samples.points, samples.normals
    return samples.calm_points, samples.calm_normals


def beside_line(samples: Samples) -> Ints:
    """Outer wall beside the fracture line; of a piece, all of it."""
    rows = np.flatnonzero(samples.wall)
    if samples.shaft is None or not samples.broken.any() or not len(rows):
        return rows
    tree = cKDTree(samples.points[samples.broken])
    distance, _ = nearest(tree, samples.points[rows], BESIDE)
    return rows[np.isfinite(distance)]


def around(samples: Samples) -> Ints:
    """All samples round the broken surface."""
    if samples.broken.all():
        return np.arange(len(samples.points))
    tree = cKDTree(samples.points[samples.broken])
    distance, _ = nearest(tree, samples.points, AROUND)
    return np.flatnonzero(np.isfinite(distance))


def _median(values: Floats, weights: Floats) -> float:
    """Weighted median; 9 mm, worse than any fit, where there is nothing."""
    if not len(values):
        return 9.0
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])
