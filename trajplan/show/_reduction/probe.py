"""The gap on broken surfaces, wherever fragments are moved: made ready once, asked at each move."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.bone import SurfaceDistance, WindingTree, as_surface, nearest_point

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.reduction import Fragment, Pose

__all__ = ["GapProbe", "gap_map"]

#: mm from another fragment past which a face is no broken surface of a reduced pair.
REACH = 4.0
#: Least cosine between a face's normal and the way to the other fragment: the outer wall beside
#: a fracture line looks another way.
FACING = 0.5
#: Faces of a fragment that are asked at each move; the others take the answer of the nearest of
#: these. So many are asked in a few milliseconds, however fine the mesh.
ASKED = 1_500


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """One fragment, as it lies."""

    distance: SurfaceDistance
    inside: WindingTree
    points: Vec3s  # (k, 3) mm, middles of the faces that are asked
    normals: Vec3s  # (k, 3)
    stands_for: Ints  # (f,) which of them answers for each face
    tree: cKDTree  # of `points`
    spacing: float  # mm, no point of the surface lies farther from all of `points`


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What the points of one fragment that are asked see of another, in one pose."""

    pose: Pose  # of the one, beside the other as it lies
    rows: Ints  # (n,) points that look at the other
    out: Floats  # (n,) mm
    far: Floats  # (n,) mm


@dataclass(frozen=True, slots=True, eq=False)
class GapProbe:
    """Measures the gap on the faces of fragments in any pose; build it with `GapProbe.of`."""

    sides: tuple[_Side, ...]
    #: Pairs as they were asked last: those that did not move are not asked again.
    seen: dict[tuple[int, int], _Seen] = field(default_factory=dict)

    @classmethod
    def of(cls, fragments: Sequence[Fragment], asked: int | None = ASKED) -> GapProbe:
        """Make fragments ready.

        Parameters
        ----------
        fragments : sequence of Fragment
            As they lie.
        asked : int or None
            Faces of each that are asked at each move; None: all.

        Returns
        -------
        GapProbe
        """
        return cls(tuple(_side(part, asked) for part in fragments))

    def gaps(self, poses: Sequence[Pose]) -> tuple[Floats, ...]:
        """Measure the gap on each face of every fragment.

        Parameters
        ----------
        poses : sequence of Pose
            One a fragment.

        Returns
        -------
        tuple of (f,) float array, mm
            Negative where bone lies in bone, NaN where a face looks at no other fragment.
        """
        return tuple(
            self._gaps(number, poses)[side.stands_for] for number, side in enumerate(self.sides)
        )

    def _gaps(self, number: int, poses: Sequence[Pose]) -> Floats:
        best = np.full(len(self.sides[number].points), np.nan)
        length = np.full(len(best), np.inf)
        for other in range(len(self.sides)):
            if other == number:
                continue
            there = poses[other].back().after(poses[number])
            key = (number, other)
            if key not in self.seen or not np.array_equal(self.seen[key].pose.matrix, there.matrix):
                self.seen[key] = _look(self.sides[number], self.sides[other], there)
            seen = self.seen[key]
            nearer = seen.far < length[seen.rows]
            rows = seen.rows[nearer]
            best[rows], length[rows] = seen.out[nearer], seen.far[nearer]
        return best


def _look(side: _Side, partner: _Side, there: Pose) -> _Seen:
    """Ask the points of one fragment, moved beside another as that lies, what they look at."""
    points = there.points(side.points)
    near = np.flatnonzero(_near(points, partner))
    points = points[near]
    way = nearest_point(partner.distance, points) - points
    far = np.linalg.norm(way, axis=1)
    out = np.einsum("ij,ij->i", way, there.directions(side.normals[near]))
    looks = (far <= REACH) & (np.abs(out) >= FACING * far)
    # behind a face lies the other bone only where the face is in it: the outer wall at a thin
    # edge has the other fragment behind it, and lies outside
    behind = looks & (out < 0.0)
    looks[behind] = partner.inside.number(points[behind]) > 0.5
    return _Seen(there, near[looks], out[looks], far[looks])


def gap_map(fragments: Sequence[Fragment], poses: Sequence[Pose]) -> tuple[Floats, ...]:
    """Measure the gap on every face of fragments.

    Parameters
    ----------
    fragments : sequence of Fragment
        As they lie.
    poses : sequence of Pose
        Where to measure.

    Returns
    -------
    tuple of (f,) float array, mm
        As `GapProbe.gaps`.
    """
    return GapProbe.of(fragments, asked=None).gaps(poses)


def _side(part: Fragment, asked: int | None) -> _Side:
    corners = part.vertices[part.faces]
    middles = corners.mean(axis=1)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = np.where(size > 0.0, normals / np.maximum(size, 1e-12), [0.0, 0.0, 1.0])
    step = 1 if asked is None else 1 + len(middles) // asked
    rows = np.arange(0, len(middles), step)
    own = np.arange(len(middles))
    if step > 1:
        # a face answers for those that look the same way: mm and the side it faces, together
        alike = cKDTree(np.hstack([middles[rows], 4.0 * normals[rows]]))
        own = np.asarray(alike.query(np.hstack([middles, 4.0 * normals]))[1])
    tree = cKDTree(middles[rows])
    wide = np.linalg.norm(corners - middles[:, None], axis=2).max()
    return _Side(
        distance=SurfaceDistance.of(as_surface((part.vertices, part.faces), "mm", part.name)),
        inside=WindingTree(part.vertices, part.faces),
        points=middles[rows],
        normals=normals[rows],
        stands_for=own,
        tree=tree,
        spacing=float(np.max(tree.query(middles)[0]) + wide),
    )


def _near(points: Vec3s, partner: _Side) -> Bools:
    """Points that may lie within reach of a fragment, the only ones worth asking."""
    bound = REACH + partner.spacing
    near: Bools = np.isfinite(partner.tree.query(points, distance_upper_bound=bound)[0])
    return near
