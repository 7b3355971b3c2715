"""Joint surfaces of displaced fragments: which piece carries which part of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone import SurfaceDistance, as_surface, point_distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Surface
    from trajplan.reduction import Fragment, Pose

__all__ = ["fragment_surface", "joint_faces", "moved_joint", "nearest_fragment"]

#: mm from the joint's surface within which a face of the bone is joint: what two exports of one
#: segmentation may differ by (assumption).
ON_JOINT = 0.5


def fragment_surface(part: Fragment) -> Surface:
    """A fragment as a surface."""
    return as_surface((part.vertices, part.faces), "mm", part.name)


def joint_faces(joint: Surface, fragments: Sequence[Fragment]) -> tuple[Bools, ...]:
    """Faces of each fragment that lie on a joint surface, as it lies."""
    distance = SurfaceDistance.of(joint)
    return tuple(
        point_distance(distance, part.vertices[part.faces].mean(axis=1)) <= ON_JOINT
        for part in fragments
    )


def nearest_fragment(points: Vec3s, fragments: Sequence[Fragment]) -> Ints:
    """Which fragment lies nearest to each point, (n,) int."""
    apart: list[Floats] = [
        point_distance(SurfaceDistance.of(fragment_surface(part)), points) for part in fragments
    ]
    nearest: Ints = np.argmin(apart, axis=0)
    return nearest


def moved_joint(joint: Surface, fragments: Sequence[Fragment], poses: Sequence[Pose]) -> Floats:
    """Triangles of a joint surface, each moved with the fragment that carries it, (f, 3, 3) mm."""
    triangles = joint.triangles()
    owner = nearest_fragment(triangles.mean(axis=1), fragments)
    moved = np.empty_like(triangles)
    for number, pose in enumerate(poses):
        own = owner == number
        moved[own] = pose.points(triangles[own].reshape(-1, 3)).reshape(-1, 3, 3)
    return moved
