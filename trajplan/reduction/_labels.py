"""Which part of a fragment is broken surface, which outer wall.

A shaft is a tube: what lies on the whole section just below the break, drawn on along the
shaft's axis, is wall or canal; the rest, above it, is broken. A piece without a whole section
(a wedge, a piece of a joint) is left open: any of its faces may be broken.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from trajplan.reduction._course import Frame, followed
from trajplan.reduction._near import nearest, neighbours
from trajplan.reduction._samples import Shaft, calm, unit

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.reduction._course import Course
    from trajplan.reduction._samples import Samples

__all__ = ["calm_radius", "label"]

#: A fragment is longer than wide where its long moment is this many times the next (a solid
#: rod of length 2 diameters has 5; a tube of 1.5 diameters 2).
LONG = 1.8
#: Diameters of the shaft, from the broken end down, in which axis and sections are sought.
#: Beyond, a bone end flares and would tilt the axis (measured: a whole femur by 5 degrees).
REACH = 5.0
#: Where the other fragments lie no farther along the shaft than this share of the fragment's
#: length, an end that is so flat (mm, root mean square), the other being so many times as
#: uneven, is where the image ends, not where the bone broke (measured on 8 fractures: ends of an
#: image 0.29 to 0.39, butterflies 1.5; a plain transverse break as little as 0.3, which this
#: does not tell).
BESIDE, FLAT, ROUGHER = 0.5, 0.45, 2.0
#: Rounds in which the axis is laid square to the sections at the break.
BENDS = 2
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
    labelled = samples
    if toward is not None:
        ends = _label_ends(samples, toward)
        labelled = next((end for end in ends if end is not None), samples)
    return calm(labelled, calm_radius(samples.spacing))


def _label_ends(samples: Samples, toward: Vec3) -> list[Samples | None]:
    """Broken at the end that looks there, or at the other, the likelier first."""
    points, areas = samples.points, samples.areas
    axis = _first_axis(points, areas)
    if axis is None:
        return []
    near = neighbours(points, 9)[1]
    normals = _smooth(samples.normals, areas, near)
    side = float(axis @ toward)
    axis = axis if side > 0.0 else -axis
    first = _label_shaft(samples, normals, near, axis)
    # fragments that overlap along the shaft do not tell by where they lie which ends are broken
    doubtful = abs(side) < BESIDE * float(np.ptp(points @ axis))
    if first is not None and not (doubtful and _unevenness(first) < FLAT):
        return [first]
    second = _label_shaft(samples, normals, near, -axis)
    if first is None or second is None:
        return [first, second]
    rougher = _unevenness(second) > ROUGHER * _unevenness(first)
    return [second, first] if rougher else [first, second]


def _unevenness(samples: Samples) -> float:
    """Root mean square of the broken surface about its plane, mm."""
    points = samples.points[samples.broken]
    return float(
        np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[2] / np.sqrt(len(points))
    )


def _label_shaft(samples: Samples, normals: Vec3s, near: Ints, axis: Vec3) -> Samples | None:
    points, areas = samples.points, samples.areas
    for _ in range(2):
        frame = Frame.of(axis)
        tube = _near_end(points, frame, areas)
        axis = _square_to(normals[tube], areas[tube], axis)
    frame = Frame.of(axis)
    course = followed(points, normals, frame, samples.spacing, tube)
    for _ in range(BENDS):  # a bent shaft: sections square to it where it is broken
        if course is None:
            return None
        frame = Frame.of(unit(frame.axis + course.slope @ frame.across))
        course = followed(points, normals, frame, samples.spacing, tube)
    return None if course is None else _labelled(samples, normals, near, frame, course)


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


def _near_end(points: Vec3s, frame: Frame, areas: Floats) -> Bools:
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


def _labelled(
    samples: Samples, normals: Vec3s, near: Ints, frame: Frame, course: Course
) -> Samples | None:
    height = samples.points @ frame.axis
    across, turned = course.straight(samples.points, normals, frame)
    distance = np.linalg.norm(across, axis=1)
    low = course.top - 2.0
    zone = np.flatnonzero((height > low) & (distance < 2.0 * course.radius))
    model = np.flatnonzero(
        (height < low - 0.5) & (height > low - 14.0) & (distance < 1.6 * course.radius)
    )
    if len(model) < 50 or len(zone) < 20:
        return None
    place = np.hstack([across, NORMAL * turned])
    off, which = nearest(cKDTree(place[model]), place[zone])
    outward = np.einsum("ij,ij->i", turned[:, :2], across) > 0.2 * distance
    broken, wall = (np.zeros(len(height), dtype=np.bool_) for _ in range(2))
    limit = max(OFF, 1.2 * samples.spacing)
    broken[zone] = off > limit
    wall[zone] = (off <= limit) & outward[model[which]]
    wall[model] |= outward[model]
    broken, wall = (_without_islands(part, samples.areas, near) for part in (broken, wall))
    if broken.sum() < 20 or wall.sum() < 20:
        return None
    middle_height = float(height[broken].mean())
    aside = course.at(np.array([middle_height]))[0][0]
    middle = aside @ frame.across + middle_height * frame.axis
    return replace(
        samples, broken=broken, wall=wall, shaft=Shaft(frame.axis, middle, course.radius)
    )


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
