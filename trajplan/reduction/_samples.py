"""Points of a fragment's surface, one a cell of some tenths of a millimetre.

The search does not need every triangle of a CT: it works on means of cells, which also calm the
noise of the image. The cells lie in the fragment's own frame, so that a fragment that lies
elsewhere is sampled alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import DegenerateError
from trajplan.reduction._near import neighbours

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s

__all__ = ["Samples", "Shaft", "calm", "inverse", "moved", "own_frame", "sample", "unit"]

#: Steps of a plastic low-discrepancy sequence: points spread evenly over a triangle that is
#: larger than a cell (Roberts 2018, "The unreasonable effectiveness of quasirandom sequences").
STEPS = (0.7548776662466927, 0.5698402909980532)
#: Points on a triangle for each cell that its area would fill.
DENSE = 2.0
#: Share of the median area below which a cell is a crumb at the edge of its neighbour.
CRUMB = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Shaft:
    """The tube that a fragment ends in, near its broken end."""

    axis: Vec3  # unit, towards the broken end
    middle: Vec3  # mm, on the axis, at the middle of the broken surface
    radius: float  # mm


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Sampled surface of a fragment."""

    points: Vec3s  # (n, 3) mm
    normals: Vec3s  # (n, 3) unit, outwards
    areas: Floats  # (n,) mm²
    broken: Bools  # (n,) may be broken surface
    wall: Bools  # (n,) may be outer wall
    spacing: float  # mm, side of a cell
    shaft: Shaft | None = None  # None: a piece without a shaft, of which all may be broken
    calm_points: Vec3s | None = None  # (n, 3) mm, outer wall calmed over some millimetres
    calm_normals: Vec3s | None = None

    def moved(self, matrix: Floats) -> Samples:
        """The same samples, moved by a rigid (4, 4) matrix."""
        turn = matrix[:3, :3].T
        shaft = self.shaft
        if shaft is not None:
            shaft = replace(
                shaft, axis=shaft.axis @ turn, middle=moved(matrix, shaft.middle[None])[0]
            )
        calm_points, calm_normals = self.calm_points, self.calm_normals
        if calm_points is not None and calm_normals is not None:
            calm_points, calm_normals = moved(matrix, calm_points), calm_normals @ turn
        return replace(
            self,
            points=moved(matrix, self.points),
            normals=self.normals @ turn,
            shaft=shaft,
            calm_points=calm_points,
            calm_normals=calm_normals,
        )

    @property
    def break_area(self) -> float:
        """Area that may be broken surface, mm²."""
        return float(self.areas[self.broken].sum())

    @property
    def break_middle(self) -> Vec3:
        """Middle of what may be broken surface, (3,) mm."""
        middle: Vec3 = np.average(self.points[self.broken], axis=0, weights=self.areas[self.broken])
        return middle


def moved(matrix: Floats, points: Vec3s) -> Vec3s:
    """Points moved by a rigid (4, 4) matrix."""
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def inverse(matrix: Floats) -> Floats:
    """Inverse of a rigid (4, 4) matrix."""
    back = np.eye(4)
    back[:3, :3] = matrix[:3, :3].T
    back[:3, 3] = -matrix[:3, :3].T @ matrix[:3, 3]
    return back


def unit(vectors: Vec3s) -> Vec3s:
    """Vectors of length one; those of no length stay so."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    scaled: Vec3s = vectors / np.maximum(length, np.finfo(float).tiny)
    return scaled


def own_frame(vertices: Vec3s, faces: Ints) -> tuple[Floats, Floats]:
    """Frame that a surface carries with it, and its second moments.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
    faces : (f, 3) int array

    Returns
    -------
    frame : (4, 4) float array
        From the frame to where the surface lies: middle of its area, long axis first; each
        axis points to the heavier tail.
    moments : (3,) float array, mm²
        Along these axes, largest first.

    Raises
    ------
    DegenerateError
        If the surface has no area.
    """
    corners = vertices[faces]
    area = 0.5 * np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    if not area.sum() > 0.0:
        raise DegenerateError("a fragment has no area")
    place = corners.mean(axis=1)
    middle = np.average(place, axis=0, weights=area)
    spread = ((place - middle).T * area) @ (place - middle) / area.sum()
    moments, axes = np.linalg.eigh(spread)
    axes = axes[:, ::-1]
    tail = area @ ((place - middle) @ axes) ** 3
    axes = axes * np.where(tail < 0.0, -1.0, 1.0)
    axes[:, 2] = np.cross(axes[:, 0], axes[:, 1])
    frame = np.eye(4)
    frame[:3, :3], frame[:3, 3] = axes, middle
    return frame, moments[::-1]


def sample(vertices: Vec3s, faces: Ints, spacing: float) -> Samples:
    """Sample a surface, all of it taken for broken and for wall as well.

    Parameters
    ----------
    vertices : (v, 3) float array, mm
    faces : (f, 3) int array
    spacing : float, mm
        Side of a cell.

    Returns
    -------
    Samples
        Where the surface lies.
    """
    frame, _ = own_frame(vertices, faces)
    local = (vertices - frame[:3, 3]) @ frame[:3, :3]
    points, normals, areas = _cells(*_spread(local, faces, spacing), spacing)
    whole = np.ones(len(points), dtype=np.bool_)
    return Samples(points, normals, areas, whole, whole.copy(), spacing).moved(frame)


def _spread(vertices: Vec3s, faces: Ints, spacing: float) -> tuple[Vec3s, Vec3s]:
    """Points spread over triangles, and the area vector that each stands for."""
    a, b, c = vertices[faces].transpose(1, 0, 2)
    vector = 0.5 * np.cross(b - a, c - a)
    area = np.linalg.norm(vector, axis=1)
    count = np.maximum(np.ceil(DENSE * area / spacing**2), 1).astype(np.int64)
    row = np.repeat(np.arange(len(faces)), count)
    number = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    lone = (count == 1)[row]
    u, v = (np.where(lone, 1.0 / 3.0, (0.5 + number * step) % 1.0) for step in STEPS)
    fold = u + v > 1.0
    u, v = np.where(fold, 1.0 - u, u), np.where(fold, 1.0 - v, v)
    points = a[row] + u[:, None] * (b - a)[row] + v[:, None] * (c - a)[row]
    return points, vector[row] / count[row, None]


def _cells(points: Vec3s, vectors: Vec3s, spacing: float) -> tuple[Vec3s, Vec3s, Floats]:
    """Means over cells; the two sides of a thin wall stay apart by their normals."""
    area = np.linalg.norm(vectors, axis=1)
    main = np.abs(vectors).argmax(axis=1)
    side = 2 * main + (vectors[np.arange(len(vectors)), main] > 0.0)
    cell = np.floor(points / spacing).astype(np.int64)
    cell -= cell.min(axis=0)
    size = cell.max(axis=0) + 1
    key = ((cell[:, 0] * size[1] + cell[:, 1]) * size[2] + cell[:, 2]) * 6 + side
    _, row = np.unique(key, return_inverse=True)
    total = _summed(row, area[:, None])[:, 0]
    place, sums = _summed(row, area[:, None] * points), _summed(row, vectors)
    kept = total > CRUMB * np.median(total)
    place, normal, total = place[kept] / total[kept, None], unit(sums[kept]), total[kept]
    distance, near = neighbours(place, 10)
    alike = np.einsum("ijk,ik->ij", normal[near], normal) > 0.2
    weight = np.where((distance < 1.6 * spacing) & alike, total[near], 0.0)
    return place, unit(np.einsum("ij,ijk->ik", weight, normal[near])), total


def _summed(row: Ints, values: Floats) -> Floats:
    """Sums of values (n, k) that go into the same row."""
    columns = [np.bincount(row, column) for column in values.T]
    return np.stack(columns, axis=1).astype(np.float64)


def calm(samples: Samples, radius: float) -> Samples:
    """Calm the outer wall over a radius: noise in normals would feign a step.

    Parameters
    ----------
    samples : Samples
        Labelled.
    radius : float, mm
        How far neighbours count.

    Returns
    -------
    Samples
        With `calm_points` and `calm_normals`.
    """
    points, normals = samples.points.copy(), samples.normals.copy()
    wall = np.flatnonzero(samples.wall)
    if len(wall):
        place, normal, area = points[wall], normals[wall], samples.areas[wall]
        distance, near = neighbours(place, 40, radius)
        here = np.isfinite(distance)
        near = np.where(here, near, 0)
        alike = here & (np.einsum("ijk,ik->ij", normal[near], normal) > 0.6)
        weight = np.where(alike, area[near], 0.0) + np.finfo(float).tiny
        mean = unit(np.einsum("ij,ijk->ik", weight, normal[near]))
        height = np.einsum("ij,ijk,ik->i", weight, place[near] - place[:, None], mean)
        points[wall] = place + (height / weight.sum(axis=1))[:, None] * mean
        normals[wall] = mean
    return replace(samples, calm_points=points, calm_normals=normals)
