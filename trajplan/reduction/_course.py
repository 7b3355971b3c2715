"""The course of a shaft up to its break: middle, size and outline, section by section.

No long bone is straight: a line through its lower half misses its middle some centimetres on
(measured: a clavicle by 10 mm, the demonstration's shaft by 2). So the sections are followed
upwards: each one's middle is sought near where the last ones point, by what is left of its
outer wall, until the break has taken all of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Vec3, Vec3s

__all__ = ["Course", "Frame", "followed"]

#: Sectors of a section in which the outer wall is looked for.
SECTORS = 24
#: A sector whose outer wall lies nearer to the middle than this share of what is usual in it
#: is broken away.
SHRUNK = 0.85
#: Whole sections in a row that make a shaft.
RUN = 3
#: Share of the way of a section's middle that the slope takes over: what one section shows is
#: noise to a third, a bend is shared by ten sections.
TAKEN = 0.15
#: Share of a sector that the usual outline takes over from a whole section: bones flare.
LEARNT = 0.2
#: Sectors whose weight the foreseen middle has: where half of the wall is gone it is trusted more.
FORESEEN = 2.0
#: The same for the size, of a section that is whole, and of one of whose wall a part is left:
#: there, size and middle go together.
FREE, FIRM = 2.0, 24.0
#: Share of the size that a sector may be off and still counts a quarter in seeking the middle, in
#: one round after the other: at first all of a section that is whole counts, at last not what
#: the break has left of it.
ODD = (0.3, 0.15, 0.08)
#: Sections over which the slope at the break is told.
LAST = 8


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A shaft's axis, upright, with two directions across."""

    axis: Vec3
    across: Floats  # (2, 3)

    @classmethod
    def of(cls, axis: Vec3) -> Frame:
        """A frame whose directions across are any two."""
        first = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
        first /= np.linalg.norm(first)
        return cls(axis, np.stack([first, np.cross(axis, first)]))


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Where a shaft runs, by heights along its axis."""

    heights: Floats  # (s,) mm, upwards
    middles: Floats  # (s, 2) mm across
    sizes: Floats  # (s,) mm, typical radius
    top: float  # mm, height of the highest whole section
    radius: float  # mm, typical at the top

    @property
    def slope(self) -> Floats:
        """Way across for each mm up, of the highest whole sections, (2,)."""
        last = np.flatnonzero(self.heights <= self.top + 1e-9)[-LAST:]
        slope: Floats = np.polyfit(self.heights[last], self.middles[last], 1)[0]
        return slope

    def at(self, heights: Floats) -> tuple[Floats, Floats, Floats]:
        """Middles (n, 2), slopes (n, 2), sizes (n,) at any heights; beyond the ends, as there."""
        slopes = np.gradient(self.middles, self.heights, axis=0)
        columns = np.column_stack([self.middles, slopes, self.sizes]).T
        found = np.array([np.interp(heights, self.heights, column) for column in columns]).T
        return found[:, :2], found[:, 2:4], found[:, 4]

    def straight(self, points: Vec3s, normals: Vec3s, frame: Frame) -> tuple[Floats, Floats]:
        """Places across (n, 2) and normals (n, 3), as if the shaft were straight and a tube."""
        height = points @ frame.axis
        middle, slope, size = self.at(height)
        across = (points @ frame.across.T - middle) * (self.radius / size)[:, None]
        facing = normals @ frame.across.T
        up = normals @ frame.axis + np.einsum("ij,ij->i", slope, facing)
        turned = np.column_stack([facing, up])
        return across, turned / np.maximum(np.linalg.norm(turned, axis=1, keepdims=True), 1e-9)


@dataclass(frozen=True, slots=True, eq=False)
class _Slabs:
    """The tube in slabs across its axis."""

    heights: Floats  # (s,) mm, middles
    across: tuple[Floats, ...]  # (k, 2) mm, samples of each slab
    facing: tuple[Floats, ...]  # (k, 2) normals across

    @classmethod
    def of(cls, points: Vec3s, normals: Vec3s, frame: Frame, spacing: float, tube: Bools) -> _Slabs:
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


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """What is known of a section when the next is sought."""

    middle: Floats  # (2,) mm
    slope: Floats  # (2,) mm for each section
    outline: Floats  # (SECTORS,) usual distance of the outer wall, mm


def followed(
    points: Vec3s, normals: Vec3s, frame: Frame, spacing: float, tube: Bools
) -> Course | None:
    """Follow a shaft upwards.

    Parameters
    ----------
    points, normals : (n, 3) float array
        Samples of a fragment; normals smoothed.
    frame : Frame
        The shaft's axis, upwards to the break.
    spacing : float, mm
        Side of a cell.
    tube : (n,) bool array
        Samples of the end that is broken.

    Returns
    -------
    Course or None
        None where no three sections in a row are whole.
    """
    slabs = _Slabs.of(points, normals, frame, spacing, tube)
    start = _start(slabs)
    if start is None:
        return None
    first, step = start
    middles, sizes, whole = [], [], []
    for across, facing in zip(slabs.across[first:], slabs.facing[first:], strict=True):
        step, complete = _next(step, across, facing)
        middles.append(step.middle)
        sizes.append(float(np.median(step.outline)))
        whole.append(complete)
    runs = np.convolve(whole, np.ones(RUN), "valid") > RUN - 0.5
    if not runs.any():
        return None
    top = int(np.flatnonzero(runs)[-1]) + RUN - 1
    heights = slabs.heights[first:]
    return Course(
        heights, np.array(middles), np.array(sizes), float(heights[top]), float(sizes[top])
    )


def _start(slabs: _Slabs) -> tuple[int, _Step] | None:
    """The first section that is followed on, and what the lower half shows."""
    low = max(RUN, len(slabs.heights) // 2)
    circles = [
        _circle(across, facing) if len(across) >= SECTORS else (np.nan, np.nan, np.nan)
        for across, facing in zip(slabs.across[:low], slabs.facing[:low], strict=True)
    ]
    radii = np.array(circles)[:, 2]
    good = np.flatnonzero(np.isfinite(radii))
    if len(good) < RUN:
        return None
    # not the lowest: the image or the bone may end there; the least bent ones are the middle ones
    first = int(good[min(1, len(good) - RUN)])
    some = good[(good >= first)][: max(RUN, LAST)]
    some = some[radii[some] > 0.7 * np.median(radii[some])]
    if len(some) < RUN:
        return None
    line = np.polyfit(some, np.array(circles)[some, :2], 1)
    shapes = [_outline(slabs.across[k] - (line[0] * k + line[1]), slabs.facing[k]) for k in some]
    outline = np.median(shapes, axis=0)
    if (outline > 0.0).sum() < SECTORS * 3 // 4:
        return None
    outline[outline <= 0.0] = np.median(outline[outline > 0.0])
    return first, _Step(line[0] * (first - 1) + line[1], line[0], outline)


def _next(step: _Step, across: Floats, facing: Floats) -> tuple[_Step, bool]:
    """The next section up, and whether its outer wall goes all the way round."""
    for firm in (FREE, FIRM):
        middle, outline = _sought(step, across, facing, firm)
        far = _outline(across - middle, facing)
        gone = far < SHRUNK * outline
        complete = not bool(np.any(gone & np.roll(gone, 1)))  # a lone sector may be empty by chance
        if complete:
            seen = ~gone & (far < outline / SHRUNK)
            outline = np.where(seen, outline + LEARNT * (far - outline), outline)
            break
    slope = (1.0 - TAKEN) * step.slope + TAKEN * (middle - step.middle)
    return _Step(middle, slope, outline), complete


def _sought(step: _Step, across: Floats, facing: Floats, firm: float) -> tuple[Floats, Floats]:
    """Middle and outline of a section, near what is foreseen."""
    foreseen = step.middle + step.slope
    middle, size = foreseen, float(np.median(step.outline))
    for odd in ODD:
        off = (far := _outline(across - middle, facing)) - step.outline
        weight = np.where(far > 0.0, 1.0 / (1.0 + (off / (odd * size)) ** 2) ** 2, 0.0)
        lever = np.column_stack([DIRECTIONS, step.outline / size])
        normal = (lever * weight[:, None]).T @ lever + np.diag([FORESEEN, FORESEEN, firm])
        pull = np.append(FORESEEN * (foreseen - middle), 0.0)
        shift = np.linalg.solve(normal, lever.T @ (weight * off) + pull)
        middle = middle + shift[:2]
    return middle, step.outline * (1.0 + shift[2] / size)


def _angles() -> Floats:
    middles: Floats = ((np.arange(SECTORS) + 0.5) / SECTORS - 0.5) * 2.0 * np.pi
    return middles


#: Unit directions of the sectors' middles, (SECTORS, 2).
DIRECTIONS = np.stack([np.cos(_angles()), np.sin(_angles())], axis=1)


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
    for _ in range(4):
        far = _outline(across - middle, facing)
        got = far > 0.0
        if got.sum() < SECTORS // 4:
            break
        rim = middle + far[got, None] * DIRECTIONS[got]
        matrix = np.column_stack([2.0 * rim, np.ones(len(rim))])
        middle = np.linalg.lstsq(matrix, (rim**2).sum(axis=1), rcond=None)[0][:2]
        radius = float(np.median(far[got]))
    return float(middle[0]), float(middle[1]), radius
