"""The demo shaft: a bowed tube with a canal, an oblique fracture, and a nerve beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from mesh_parts import angles, combine, domed_loft, patch, stack

if TYPE_CHECKING:
    from mesh_parts import Centre, Floats, Inside, Ints, Mesh, Radius
    from numpy.typing import NDArray

SHAFT_LENGTH = 220.0
SHAFT_MIDDLE = SHAFT_LENGTH / 2
SHAFT_ENDS = (8.0, SHAFT_LENGTH - 8.0)  # heights at which the domes begin
CANAL_ENDS = (16.0, SHAFT_LENGTH - 16.0)
SHAFT_PLANE = (np.array([0.0, 0.0, 110.0]), np.array([0.866, 0.0, 0.5]))


def shaft_centre(z: Floats) -> Floats:
    """Gentle bow in x, and a slighter one in y."""
    s = (z - SHAFT_MIDDLE) / SHAFT_MIDDLE
    return np.stack([-7.0 * s**2, 1.5 * s**3], axis=-1)


def shaft_radius(theta: Floats, z: Floats) -> Floats:
    """Rounded triangle of about 26 mm that twists along z and flares at both ends."""
    s = (z - SHAFT_MIDDLE) / SHAFT_MIDDLE
    turn = theta - np.radians(20.0) * s
    flare = np.where(s > 0, 9.0, 7.0) * np.abs(s) ** 4.5
    ripple = 0.075 * np.cos(3 * turn) * (1 - 0.6 * s**2)
    oval = 0.16 * s**2 * np.cos(2 * (theta - 0.3))
    return (12.6 + flare) * (1 + ripple + oval)


def canal_centre(z: Floats) -> Floats:
    """The canal wanders a little off the middle, so that the cortex varies."""
    s = (z - SHAFT_MIDDLE) / SHAFT_MIDDLE
    return shaft_centre(z) + np.stack([0.7 * np.cos(2.2 * s), 0.6 * np.sin(1.7 * s)], axis=-1)


def canal_radius(theta: Floats, z: Floats) -> Floats:
    """Marrow space about 11 mm wide, wider towards the ends."""
    s = (z - SHAFT_MIDDLE) / SHAFT_MIDDLE
    return 5.5 + 4.5 * np.abs(s) ** 4 + 0.35 * np.cos(2 * theta + 1.0)


def _within(radius: Radius, centre: Centre) -> Inside:
    def inside(points: Floats) -> NDArray[np.bool_]:
        z = points[..., 2]
        offset = points[..., :2] - centre(z)
        theta = np.arctan2(offset[..., 1], offset[..., 0])
        return (offset**2).sum(axis=-1) < radius(theta, z) ** 2

    return inside


def shaft_rough(a: Floats, b: Floats) -> Floats:
    """Teeth of a few tenths of a millimetre."""
    return 0.22 * np.sin(0.8 * a + 0.3 * b) * np.cos(0.6 * b) + 0.12 * np.sin(1.9 * b - 0.7 * a)


def shaft() -> dict[str, Mesh]:
    """The shaft's meshes: bone, fracture and nerve."""
    outer = domed_loft(shaft_radius, shaft_centre, SHAFT_ENDS, 8.0, (54, 44))
    canal = domed_loft(canal_radius, canal_centre, CANAL_ENDS, 5.0, (40, 24))
    canal = canal[0], canal[1][:, ::-1]  # normals of a hollow point into it, out of the bone
    crack = patch(
        SHAFT_PLANE,
        shaft_rough,
        _within(shaft_radius, shaft_centre),
        _within(canal_radius, canal_centre),
        (72, 6),
    )
    return {
        "shaft": combine({"outer": outer, "canal": canal}),
        "shaft_groups": combine({"outer": outer, "canal": canal, "fracture": crack}),
        "shaft_fracture": combine({"fracture": crack}),
        "shaft_nerve": combine({"nerve": nerve()}),
    }


def nerve() -> tuple[Floats, Ints]:
    """A closed tube, 4 mm wide, that winds down past the shaft some 6 mm off its skin."""
    z = np.linspace(30.0, 190.0, 41)
    s = (z - SHAFT_MIDDLE) / SHAFT_MIDDLE
    bearing = np.radians(58.0 + 38.0 * s)
    reach = shaft_radius(bearing, z) + 8.0
    path = np.column_stack(
        [
            shaft_centre(z)
            + reach[:, None] * np.stack([np.cos(bearing), np.sin(bearing)], axis=-1),
            z,
        ]
    )
    theta = angles(10)
    around = 2.0 * np.stack([np.cos(theta), np.sin(theta), np.zeros(10)], axis=-1)
    return stack(path[:, None] + around, path[0], path[-1])
