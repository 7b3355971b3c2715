"""Which part of a fragment is broken surface, which outer wall.

A shaft is a tube: what lies on the whole section just below the break, drawn on along the
shaft's axis, is wall or canal; the rest, above it, is broken. A piece without a whole section
(a wedge, a piece of a joint) is left open: any of its faces may be broken.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from trajplan.reduction._near import nearest, neighbours
from trajplan.reduction._samples import Shaft, calm, unit

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.reduction._samples import Samples

__all__ = ["calm_radius", "label"]

#: A fragment is longer than wide where its long moment is this many times the next (a solid
#: rod of length 2 diameters has 5; a tube of 1.5 diameters 2).
LONG = 1.8
#: Diameters of the shaft, from the broken end down, in which axis and sections are sought.
#: Beyond, a bone end flares and would tilt the axis (measured: a whole femur by 5 degrees).
REACH = 5.0
#: Sectors of a section in which the outer wall is looked for.
SECTORS = 24
#: A sector whose outer wall lies nearer to the middle than this share of what is usual in it
#: is broken away.
SHRUNK = 0.85
#: Whole sections in a row that make a shaft.
RUN = 3
#: Share of the typical radius below which a section is the tip of a spike.
SLIM = 0.72
#: mm and radius-lengths: a point farther than this from the drawn-on section is broken. The
#: second coordinate weighs normals against places (1 means 1 mm for 23 degrees).
OFF, NORMAL = 1.0, 2.5
#: Labelled areas smaller than this share of the largest are noise.
ISLAND = 0.08


def calm_radius(spacing: float) -> float:
    """How far the outer wall is calmed, mm: 3 mm where a cell is 1 mm or less (measured)."""
    return max(3.0, 3.0 * spacing)


def label(samples: Samples, toward: Vec3 | None) -> Samples:
    """Tell broken surface from outer wall.

    Parameters
    ----------
    samples : Samples
        Of one fragment.
    toward : (3,) float array or None
        Roughly towards the other fragment: on which end it is broken; None: no end of a shaft.

    Returns
    -------
    Samples
        Labelled, its shaft found; or all open, where it has none.
    """
    found = None if toward is None else _label_shaft(samples, toward)
    labelled = samples if found is None else found
    return calm(labelled, calm_radius(samples.spacing))


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """A shaft's axis, upright, with two directions across."""

    axis: Vec3
    across: Floats  # (2, 3)

    @classmethod
    def of(cls, axis: Vec3) -> _Frame:
        first = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
        first /= np.linalg.norm(first)
        return cls(axis, np.stack([first, np.cross(axis, first)]))


def _label_shaft(samples: Samples, toward: Vec3) -> Samples | None:
    points, areas = samples.points, samples.areas
    near = neighbours(points, 9)[1]
    normals = _smooth(samples.normals, areas, near)
    axis = _first_axis(points, areas)
    if axis is None:
        return None
    axis = axis if axis @ toward > 0.0 else -axis
    for _ in range(2):
        frame = _Frame.of(axis)
        tube = _near_end(points, frame, areas)
        axis = _square_to(normals[tube], areas[tube], axis)
    frame = _Frame.of(axis)
    first = _line_of_sections(points, normals, frame, samples.spacing, tube)
    if first is None:
        return None
    frame = _Frame.of(unit(axis + first.slope @ frame.across))
    line = _line_of_sections(points, normals, frame, samples.spacing, tube)
    return None if line is None else _labelled(samples, normals, near, frame, line)


def _smooth(normals: Vec3s, areas: Floats, near: Ints) -> Vec3s:
    """Normals smoothed along the surface, but not across edges (bilateral)."""
    for wide in (4.0, 4.0, 1.0, 1.0, 1.0, 1.0):
        apart = ((normals[near] - normals[:, None]) ** 2).sum(axis=-1)
        weight = areas[near] * np.exp(-apart / (wide * 0.27))  # 0.27: a right angle's eighth
        normals = unit(np.einsum("ij,ijk->ik", weight, normals[near]))
    return normals


def _first_axis(points: Vec3s, areas: Floats) -> Vec3 | None:
    """Long axis of the points; None where they are no longer than wide."""
    apart = points - np.average(points, axis=0, weights=areas)
    moments, axes = np.linalg.eigh((apart.T * areas) @ apart)
    longest: Vec3 = axes[:, 2]
    return longest if moments[2] > LONG * moments[1] else None


def _near_end(points: Vec3s, frame: _Frame, areas: Floats) -> Bools:
    """Samples within some diameters of the broken end."""
    height = points @ frame.axis
    across = points @ frame.across.T
    low = np.quantile(height, 0.5)
    upper = height > low
    spread = across[upper] - np.average(across[upper], axis=0, weights=areas[upper])
    radius = np.median(np.linalg.norm(spread, axis=1))
    near: Bools = height > height.max() - max(REACH * 2.0 * radius, 40.0)
    return near


def _square_to(normals: Vec3s, areas: Floats, axis: Vec3) -> Vec3:
    """Axis that most normals stand square to, by reweighting (least squares of sines)."""
    for _ in range(20):
        sine = np.abs(normals @ axis)
        weight = areas / (1.0 + (sine / 0.15) ** 2) ** 2
        new = np.linalg.eigh((normals * weight[:, None]).T @ normals)[1][:, 0]
        new = new * np.sign(new @ axis)
        done = new @ axis > 1.0 - 1e-12
        axis = new
        if done:
            break
    return axis


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """Middles of the whole sections below the break, as a straight line of the height."""

    slope: Floats  # (2,) across for each mm up
    middle: Floats  # (2,) mm, at height zero
    widen: float  # radius for each mm up
    radius0: float  # mm, radius at height zero
    radius: float  # mm, typical
    top: float  # mm, height of the highest whole section


def _line_of_sections(
    points: Vec3s, normals: Vec3s, frame: _Frame, spacing: float, tube: Bools
) -> _Line | None:
    """Line through the middles of the whole sections, and where the highest lies."""
    slabs = _Slabs.of(points, normals, frame, spacing, tube)
    rows = slabs.circles()
    some = np.isfinite(rows[:, 3])
    typical = np.median(rows[some, 3]) if some.any() else np.nan
    # first the lower half alone, which is whole unless the fragment is very short
    low = some & (np.arange(len(rows)) < max(RUN, len(rows) // 2)) & (rows[:, 3] > SLIM * typical)
    if low.sum() < RUN:
        return None
    whole = slabs.whole(np.polyfit(rows[low, 0], rows[low, 1:3], 1))
    run, top = 0, -1
    for k in range(len(whole) - 1, -1, -1):
        run = run + 1 if whole[k] else 0
        if run >= RUN:
            top = k + RUN - 1
            break
    use = np.arange(max(0, top - 10), top + 1)
    use = use[whole[use] & some[use]]
    if top < 0 or len(use) < RUN:
        return None
    fit = np.polyfit(rows[use, 0], rows[use, 1:4], 1)
    return _Line(
        slope=fit[0, :2], middle=fit[1, :2], widen=float(fit[0, 2]), radius0=float(fit[1, 2]),
        radius=float(np.median(rows[use, 3])), top=float(rows[top, 0]),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _Slabs:
    """The tube in slabs across its axis."""

    heights: Floats  # (s,) mm, middles
    across: tuple[Floats, ...]  # (k, 2) mm, samples of each slab
    facing: tuple[Floats, ...]  # (k, 2) normals across

    @classmethod
    def of(
        cls, points: Vec3s, normals: Vec3s, frame: _Frame, spacing: float, tube: Bools
    ) -> _Slabs:
        step = max(2.0, 2.0 * spacing)
        height = points[tube] @ frame.axis
        slab = np.floor((height - height.min()) / step).astype(np.int64)
        order = np.argsort(slab, kind="stable")
        cuts = np.searchsorted(slab[order], np.arange(1, slab.max() + 1))
        across, facing = (
            tuple(np.split((values[tube] @ frame.across.T)[order], cuts))
            for values in (points, normals)
        )
        middles = height.min() + (np.arange(len(across)) + 0.5) * step
        return cls(middles, across, facing)

    def circles(self) -> Floats:
        """Height, middle and radius of the circle round each slab's outline, NaN: none."""
        rows = np.full((len(self.heights), 4), np.nan)
        rows[:, 0] = self.heights
        for k, (across, facing) in enumerate(zip(self.across, self.facing, strict=True)):
            if len(across) >= SECTORS:
                rows[k, 1:] = _circle(across, facing)
        return rows

    def whole(self, line: Floats) -> Bools:
        """Whether the outer wall goes all the way round each slab.

        The shape of a slab is held against that of the lower slabs: a bone is not round.
        """
        far = np.stack(
            [
                _outline(across - (line[0] * height + line[1]), facing)
                for height, across, facing in zip(
                    self.heights, self.across, self.facing, strict=True
                )
            ]
        )
        # a slab's own size is that of its wider sectors: bones flare, and breaks take some away
        size = np.quantile(far, 0.75, axis=1, keepdims=True)
        shape = far / np.maximum(size, 1e-3)
        gone = shape < SHRUNK * np.median(shape[: max(RUN, len(shape) // 2)], axis=0)
        beside = gone & np.roll(gone, 1, axis=1)  # a lone sector may be empty by chance
        whole: Bools = np.logical_not(np.any(beside, axis=1))
        return whole


def _outline(apart: Floats, facing: Floats) -> Floats:
    """Distance of the outer wall from the middle in each sector, 0 where there is none."""
    distance = np.linalg.norm(apart, axis=1)
    outer = np.einsum("ij,ij->i", facing, apart) > 0.6 * distance
    angle = np.arctan2(apart[outer, 1], apart[outer, 0])
    sector = ((angle / (2.0 * np.pi) + 0.5) * SECTORS).astype(np.int64) % SECTORS
    far = np.zeros(SECTORS)
    np.maximum.at(far, sector, distance[outer])
    return far


def _circle(across: Floats, facing: Floats) -> tuple[float, float, float]:
    """Middle and radius of the outline of a slab."""
    middle, radius = 0.5 * (across.min(axis=0) + across.max(axis=0)), np.nan
    turn = ((np.arange(SECTORS) + 0.5) / SECTORS - 0.5) * 2.0 * np.pi
    for _ in range(4):
        far = _outline(across - middle, facing)
        got = far > 0.0
        if got.sum() < SECTORS // 4:
            break
        rim = middle + far[got, None] * np.stack([np.cos(turn[got]), np.sin(turn[got])], axis=1)
        matrix = np.column_stack([2.0 * rim, np.ones(len(rim))])
        middle = np.linalg.lstsq(matrix, (rim**2).sum(axis=1), rcond=None)[0][:2]
        radius = float(np.median(far[got]))
    return float(middle[0]), float(middle[1]), radius


def _labelled(
    samples: Samples, normals: Vec3s, near: Ints, frame: _Frame, line: _Line
) -> Samples | None:
    height = samples.points @ frame.axis
    facing = normals @ frame.across.T
    apart = samples.points @ frame.across.T - (height[:, None] * line.slope + line.middle)
    distance = np.linalg.norm(apart, axis=1)
    size = np.maximum(line.widen * height + line.radius0, 0.6 * line.radius)
    low = line.top - 2.0
    zone = np.flatnonzero((height > low) & (distance < 2.0 * line.radius))
    model = np.flatnonzero((height < low - 0.5) & (height > low - 14.0) & (distance < 1.6 * size))
    if len(model) < 50 or len(zone) < 20:
        return None
    scaled = apart / size[:, None] * line.radius
    place = np.hstack([scaled, NORMAL * normals])
    off, which = nearest(cKDTree(place[model]), place[zone])
    outward = np.einsum("ij,ij->i", facing, apart) > 0.2 * distance
    broken, wall = (np.zeros(len(height), dtype=np.bool_) for _ in range(2))
    limit = max(OFF, 1.2 * samples.spacing)
    broken[zone] = off > limit
    wall[zone] = (off <= limit) & outward[model[which]]
    wall[model] |= outward[model]
    broken, wall = (_without_islands(part, samples.areas, near) for part in (broken, wall))
    if broken.sum() < 20 or wall.sum() < 20:
        return None
    middle_height = float(height[broken].mean())
    middle = (middle_height * line.slope + line.middle) @ frame.across + middle_height * frame.axis
    return replace(samples, broken=broken, wall=wall, shaft=Shaft(frame.axis, middle, line.radius))


def _without_islands(part: Bools, areas: Floats, near: Ints) -> Bools:
    """The part without small pieces that hang together with nothing else of it."""
    first = np.repeat(np.arange(len(part)), near.shape[1])
    both = part[first] & part[near.ravel()]
    graph = coo_matrix(
        (np.ones(both.sum()), (first[both], near.ravel()[both])), (len(part), len(part))
    )
    _, number = connected_components(graph, directed=False)
    size = np.bincount(number, areas * part)
    kept: Bools = part & (size[number] > ISLAND * size.max())
    return kept
