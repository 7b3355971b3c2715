"""The gap on the broken surfaces of fragments that were put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import SurfaceDistance, as_surface, nearest_point

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3s
    from trajplan.reduction import Fragment, Pose

__all__ = ["GAP_MOST", "gap_map"]

#: mm; a gap of so much and more has the last colour of the scale.
GAP_MOST = 2.0
#: mm from another fragment past which a face is no broken surface of a reduced pair.
REACH = 4.0
#: Least cosine between a face's normal and the way to the other fragment: the outer wall beside
#: a fracture line looks another way.
FACING = 0.5


def gap_map(fragments: Sequence[Fragment], poses: Sequence[Pose]) -> tuple[Floats, ...]:
    """Measure the gap on each face of every fragment.

    Parameters
    ----------
    fragments : sequence of Fragment
        As they lie.
    poses : sequence of Pose
        Where to measure.

    Returns
    -------
    tuple of (f,) float array, mm
        One for each fragment; negative where bone lies in bone, NaN where a face looks at no
        other fragment.
    """
    corners = [
        pose.points(part.vertices)[part.faces] for part, pose in zip(fragments, poses, strict=True)
    ]
    return tuple(
        _gaps(own, np.concatenate([other for k, other in enumerate(corners) if k != number]))
        for number, own in enumerate(corners)
    )


def _gaps(own: Floats, others: Floats) -> Floats:
    points = own.mean(axis=1)
    normal = np.cross(own[:, 1] - own[:, 0], own[:, 2] - own[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    rest = as_surface(
        (others.reshape(-1, 3), np.arange(3 * len(others)).reshape(-1, 3)), "mm", "rest"
    )
    gap = np.full(len(points), np.nan)
    near = _near(points, others)
    way = nearest_point(SurfaceDistance.of(rest), points[near]) - points[near]
    length = np.linalg.norm(way, axis=1)
    out = np.einsum("ij,ij->i", way, normal[near])
    looks = (length <= REACH) & (np.abs(out) >= FACING * length)
    gap[np.flatnonzero(near)[looks]] = out[looks]
    return gap


def _near(points: Vec3s, others: Floats) -> np.ndarray:
    """Points in the box of the others, the only ones worth asking."""
    low = others.min(axis=(0, 1)) - REACH
    high = others.max(axis=(0, 1)) + REACH
    inside: np.ndarray = ((points >= low) & (points <= high)).all(axis=1)
    return inside
