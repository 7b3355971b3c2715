"""Where fragments lie, in the words of the clinic: each against the fixed one, about the shaft.

All is said of a fragment as it lies, seen from where it belongs: its reduced pose. The long axis
points from the fixed fragment to the one that is described.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import (
    SurfaceDistance,
    as_surface,
    nearest_point,
    point_distance,
    shaft_axis,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3, Vec3s
    from trajplan.bone import Surface
    from trajplan.reduction._types import Fragment, Pose

__all__ = ["Displacement", "JointFit", "displacements", "joint_fits", "long_axis"]

#: mm past the nearest place of two fragments within which a face belongs to their meeting:
#: bone lost at the edges (0.3 to 1 mm) and the roughness of a fracture lie below it (assumption).
MEETING = 2.0
#: Most faces of a fragment that are asked how far the others are: their middle is wanted alone.
SAMPLE = 20_000
#: mm; how near the edges of two parts of a joint lie, reduced, to be the two sides of its broken
#: line: twice the gap of 2 mm that is usually left at most (assumption).
JOINT_LINE = 4.0
#: Letters of a frame that name directions of the body, and the axis pairs of the two plain films.
SIDES = {"L": "left", "R": "right", "A": "front", "P": "back", "S": "head", "I": "feet"}
OPPOSITE = {"L": "R", "R": "L", "A": "P", "P": "A", "S": "I", "I": "S"}


@dataclass(frozen=True, slots=True, eq=False)
class Displacement:
    """How one fragment lies against the fixed one; NaN: cannot be told."""

    fragment: int
    shift: float  # mm, of its place in the fracture, in all
    rotation: float  # degrees, in all
    across: float  # mm, shift square to the long axis, at the fracture
    shortening: float  # mm, along it; positive: too short, negative: pulled apart
    angulation: float  # degrees between the axis of the fragment and where it belongs
    front: float  # degrees of it that a front view shows; NaN: the frame names no sides
    side: float  # degrees of it that a side view shows
    front_to: str  # side of the body that its far end leans to in the front view; empty: unknown
    side_to: str  # the same in the side view
    turn: float  # degrees about the long axis; positive: clockwise, seen from the fixed fragment
    toward: Vec3  # (3,) unit, direction in which it is shifted across; NaN where it is not


@dataclass(frozen=True, slots=True, eq=False)
class JointFit:
    """Gap and step of a joint surface across the fracture between two fragments."""

    name: str
    fragments: tuple[int, int]
    gap_mean: float  # mm, within the joint surface
    gap_largest: float  # mm
    step_mean: float  # mm, square to the joint surface
    step_largest: float  # mm


def long_axis(fragments: Sequence[Fragment], poses: Sequence[Pose], fixed: int) -> Vec3 | None:
    """The long axis of the bone as it is put together.

    Parameters
    ----------
    fragments : sequence of Fragment
        As they lie.
    poses : sequence of Pose
        One for each.
    fixed : int
        Fragment that stays: where the whole has no shaft, its own is taken.

    Returns
    -------
    (3,) unit vector or None
        None where neither has a shaft.
    """
    whole = _joined(fragments, poses)
    for part in (whole, _joined([fragments[fixed]], [poses[fixed]])):
        axis = shaft_axis(part)
        if axis.found:
            return axis.direction
    return None


def displacements(
    fragments: Sequence[Fragment], poses: Sequence[Pose], fixed: int, frame: str = ""
) -> tuple[Displacement, ...]:
    """Tell how each fragment lies against the fixed one, seen from where it belongs.

    Parameters
    ----------
    fragments : sequence of Fragment
        As they lie.
    poses : sequence of Pose
        One for each, from as it lies to reduced.
    fixed : int
        Fragment that stays.
    frame : str
        Label of the frame: three letters such as LPS name the sides of the body, and with them
        the front and the side view. Any other label leaves these two unknown.

    Returns
    -------
    tuple of Displacement
        One for every fragment but the fixed one, in their order.

    Notes
    -----
    The movement from reduced to as it lies is a rotation and the shift of one point, the middle
    of the surface along which the fragment meets others. The rotation is taken apart into a turn
    about the long axis and the least tilt of that axis (swing and twist).
    """
    axis = long_axis(fragments, poses, fixed)
    lain = [poses[fixed].after(pose.back()) for pose in poses]
    middles = [
        pose.points(_middle(part)[None])[0] for part, pose in zip(fragments, poses, strict=True)
    ]
    found = []
    for number in range(len(fragments)):
        if number == fixed:
            continue
        place = _meeting(fragments, poses, number)
        if axis is None:
            found.append(_untold(number, lain[number], place))
            continue
        away = axis * math.copysign(1.0, float((middles[number] - middles[fixed]) @ axis))
        found.append(_told(number, lain[number], place, away, frame))
    return tuple(found)


def _untold(number: int, lain: Pose, place: Vec3) -> Displacement:
    """Without a shaft there is nothing to tell the parts of a movement by."""
    nan, shift = math.nan, lain.points(place[None])[0] - place
    return Displacement(
        fragment=number,
        shift=float(np.linalg.norm(shift)),
        rotation=_whole_turn(lain.rotation),
        across=nan,
        shortening=nan,
        angulation=nan,
        front=nan,
        side=nan,
        front_to="",
        side_to="",
        turn=nan,
        toward=np.full(3, nan),
    )


def _told(number: int, lain: Pose, place: Vec3, axis: Vec3, frame: str) -> Displacement:
    shift = lain.points(place[None])[0] - place
    along = float(shift @ axis)
    across = shift - along * axis
    size = float(np.linalg.norm(across))
    leaning = lain.rotation @ axis
    front, front_to, side, side_to = _views(axis, leaning, frame)
    return Displacement(
        fragment=number,
        shift=float(np.linalg.norm(shift)),
        rotation=_whole_turn(lain.rotation),
        across=size,
        shortening=-along,
        angulation=_degrees(float(np.linalg.norm(np.cross(axis, leaning))), float(axis @ leaning)),
        front=front,
        side=side,
        front_to=front_to,
        side_to=side_to,
        turn=_twist(lain.rotation, axis),
        toward=across / size if size > 0.0 else np.full(3, math.nan),
    )


def _whole_turn(turn: Floats) -> float:
    """Angle of a rotation, degrees; well told for small ones too."""
    skew = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
    return _degrees(0.5 * float(np.linalg.norm(skew)), 0.5 * (float(np.trace(turn)) - 1.0))


def _twist(turn: Floats, axis: Vec3) -> float:
    """Turn about an axis in the swing-twist decomposition, degrees; NaN where it is turned over."""
    skew = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
    # the quaternion of a rotation is proportional to (1 + trace, skew)
    real, imaginary = 1.0 + float(np.trace(turn)), float(skew @ axis)
    if math.hypot(real, imaginary) < 1e-9:  # half a turn: every twist explains it as well
        return math.nan
    return 2.0 * math.degrees(math.atan2(imaginary, real))


def _views(axis: Vec3, leaning: Vec3, frame: str) -> tuple[float, str, float, str]:
    """Angles that a front and a side view show, and the side to which each leans."""
    sides = _body_sides(frame)
    if sides is None:
        return math.nan, "", math.nan, ""
    told: list[float | str] = []
    for letter in ("L", "A"):
        across = sides[letter]
        normal = sides["A" if letter == "L" else "L"]
        flat = axis - (axis @ normal) * normal
        length = float(np.linalg.norm(flat))
        if length < VIEWED:
            told += [math.nan, ""]
            continue
        up = flat / length
        right = across - (across @ up) * up
        right /= max(float(np.linalg.norm(right)), 1e-12)
        angle = math.degrees(math.atan2(float(leaning @ right), float(leaning @ up)))
        told += [abs(angle), SIDES[letter if angle >= 0.0 else OPPOSITE[letter]]]
    front, front_to, side, side_to = told
    return float(front), str(front_to), float(side), str(side_to)


#: Least length of a unit axis in a view: a bone that points at the viewer has no angle there.
VIEWED = 0.5


def _body_sides(frame: str) -> dict[str, Vec3] | None:
    """Unit vectors to the left and to the front of the body, where three letters name them."""
    letters = frame.strip().upper()
    pairs = [{letter, OPPOSITE[letter]} for letter in letters if letter in OPPOSITE]
    if len(letters) != 3 or len(pairs) != 3 or any(pairs.count(pair) > 1 for pair in pairs):
        return None
    sides: dict[str, Vec3] = {}
    for row, letter in enumerate(letters):
        sides[letter] = np.eye(3)[row]
        sides[OPPOSITE[letter]] = -np.eye(3)[row]
    return sides


def _meeting(fragments: Sequence[Fragment], poses: Sequence[Pose], number: int) -> Vec3:
    """Middle of the surface along which a fragment meets the others, reduced."""
    others = [i for i in range(len(fragments)) if i != number]
    rest = _joined([fragments[i] for i in others], [poses[i] for i in others])
    points, area = _centres(fragments[number])
    points = poses[number].points(points)
    apart = point_distance(SurfaceDistance.of(rest), points)
    near = apart <= apart.min() + MEETING
    middle: Vec3 = np.average(points[near], axis=0, weights=area[near])
    return middle


def _centres(part: Fragment) -> tuple[Vec3s, Floats]:
    """Middles of faces and their areas, no more than a sample of them."""
    step = 1 + len(part.faces) // SAMPLE
    corners = part.vertices[part.faces[::step]]
    area = 0.5 * np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    return corners.mean(axis=1), np.maximum(area, 1e-12)


def _middle(part: Fragment) -> Vec3:
    points, area = _centres(part)
    middle: Vec3 = np.average(points, axis=0, weights=area)
    return middle


def joint_fits(
    name: str,
    fragments: Sequence[Fragment],
    poses: Sequence[Pose],
    joint: Sequence[Bools],
    lying: Sequence[Pose] | None = None,
) -> tuple[JointFit, ...]:
    """Measure gap and step of a joint surface along the fracture, pair by pair.

    Parameters
    ----------
    name : str
        Name of the joint.
    fragments : sequence of Fragment
        As they lie.
    poses : sequence of Pose
        Reduced: which points of the joint belong together is settled here.
    joint : sequence of (f,) bool array
        Faces of each fragment that belong to the joint surface.
    lying : sequence of Pose, optional
        Where to measure; the reduced poses by default, `Pose.still()` for each as they lie.

    Returns
    -------
    tuple of JointFit
        Of the pairs of which both fragments carry a part of the joint that meets in the fracture.

    Notes
    -----
    Corners on the edge of one fragment's part of the joint that lie within `JOINT_LINE` of the
    other's, reduced, stand for the broken line; their nearest points there are their partners.
    The way between partners is parted along the normal of the joint surface (step) and square to
    it (gap).
    """
    where = list(poses if lying is None else lying)
    rows = [np.flatnonzero(mask) for mask in joint]
    count = len(fragments)
    pairs = [(a, b) for a in range(count) for b in range(a + 1, count)]
    fits = []
    for a, b in pairs:
        if len(rows[a]) == 0 or len(rows[b]) == 0:
            continue
        way, normal = _broken_line(fragments, poses, where, rows, (a, b))
        if len(way):
            step = np.abs(np.einsum("ij,ij->i", way, normal))
            gap = np.sqrt(np.maximum(np.einsum("ij,ij->i", way, way) - step**2, 0.0))
            fits.append(
                JointFit(
                    name=name,
                    fragments=(a, b),
                    gap_mean=float(gap.mean()),
                    gap_largest=float(gap.max()),
                    step_mean=float(step.mean()),
                    step_largest=float(step.max()),
                )
            )
    return tuple(fits)


def _broken_line(
    fragments: Sequence[Fragment],
    poses: Sequence[Pose],
    where: Sequence[Pose],
    rows: Sequence[Ints],
    pair: tuple[int, int],
) -> tuple[Vec3s, Vec3s]:
    """Ways between partners across the broken line of a joint, and its normals there."""
    a, b = pair
    faces = fragments[a].faces[rows[a]]
    edge = _edge_corners(faces)
    points, normals = fragments[a].vertices[edge], _corner_normals(fragments[a], faces)[edge]
    partner = SurfaceDistance.of(_joint_part(fragments[b], rows[b]))
    placed = poses[b].back().after(poses[a]).points(points)  # beside the partner as it lies
    line = point_distance(partner, placed) <= JOINT_LINE
    if not line.any():
        return np.zeros((0, 3)), np.zeros((0, 3))
    met = nearest_point(partner, placed[line])
    return (
        where[b].points(met) - where[a].points(points[line]),
        where[a].directions(normals[line]),
    )


def _edge_corners(faces: Ints) -> Ints:
    """Corners on the open edges of a part of a surface."""
    edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    once, count = np.unique(edges, axis=0, return_counts=True)
    return np.unique(once[count == 1])


def _corner_normals(part: Fragment, faces: Ints) -> Vec3s:
    """Area-weighted normals at the corners of some faces; zero elsewhere."""
    a, b, c = part.vertices[faces].transpose(1, 0, 2)
    square = np.cross(b - a, c - a)
    normals = np.zeros_like(part.vertices)
    np.add.at(normals, faces, square[:, None, :])
    return normals


def _joint_part(part: Fragment, rows: Ints) -> Surface:
    return as_surface((part.vertices, part.faces[rows]), "mm", part.name)


def _joined(fragments: Sequence[Fragment], poses: Sequence[Pose]) -> Surface:
    """Fragments in their poses, as one surface."""
    counts = np.cumsum([0, *(len(part.vertices) for part in fragments)])
    vertices = [pose.points(part.vertices) for part, pose in zip(fragments, poses, strict=True)]
    faces = [part.faces + start for part, start in zip(fragments, counts, strict=False)]
    return as_surface((np.concatenate(vertices), np.concatenate(faces)), "mm", "fragments")


def _degrees(sine: float, cosine: float) -> float:
    return math.degrees(math.atan2(sine, cosine))
