"""Rings of parallel lines round axes, and fans of directions round a normal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.geometry._planes import frames

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3s

__all__ = ["fan", "ring_offsets"]

_GOLDEN_ANGLE = np.pi * (3.0 - np.sqrt(5.0))


def ring_offsets(direction: Vec3s, radius: Floats, count: int) -> Floats:
    """Vectors from each axis to evenly spaced points of a circle round it.

    Parameters
    ----------
    direction : (n, 3) float array
        Unit directions of the axes.
    radius : (n,) float array, mm
        Radius of each circle.
    count : int
        Points on a circle, 1 or more.

    Returns
    -------
    (n, count, 3) float array, mm
        Rows are perpendicular to the direction and run anticlockwise seen from the tip.
        With ``2 * count`` points, every second one is a point of ``count`` points.
    """
    angle = 2.0 * np.pi * np.arange(count) / count
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    arms = frames(direction)[:, :2] * np.asarray(radius, dtype=np.float64)[:, None, None]
    offsets: Floats = circle @ arms
    return offsets


def fan(normals: Vec3s, max_tilt: float, count: int) -> Floats:
    """Directions spread evenly over a cone round each normal, the normal itself first.

    Parameters
    ----------
    normals : (n, 3) float array
        Unit vectors in the middle of the cones.
    max_tilt : float, degrees
        Half-angle of the cone, 0 <= max_tilt < 90.
    count : int
        Directions, 1 or more.

    Returns
    -------
    (n, count, 3) float array
        Unit vectors.

    Notes
    -----
    A spherical spiral with the golden angle: equal areas of the cap per direction, no
    rows or clumps, the same set for the same arguments.

    References
    ----------
    .. [1] Vogel 1979, "A better way to construct the sunflower head", Math Biosci 44,
       on the sphere; common practice.
    """
    step = np.arange(count)
    share = step / max(count - 1, 1)
    cosine = 1.0 - share * (1.0 - np.cos(np.radians(max_tilt)))
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, 1.0))
    angle = step * _GOLDEN_ANGLE
    spiral = np.stack([sine * np.cos(angle), sine * np.sin(angle), cosine], axis=1)
    directions: Floats = spiral @ frames(normals)
    directions /= np.linalg.norm(directions, axis=2, keepdims=True)
    return directions
