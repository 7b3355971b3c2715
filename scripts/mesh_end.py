"""The demo bone end: flared and solid, with a joint surface and a split."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from mesh_parts import angles, combine, patch, stack

if TYPE_CHECKING:
    from mesh_parts import Floats, Mesh
    from numpy.typing import NDArray

END_PLANE = (np.array([16.0, 0.0, 62.0]), np.array([0.985, 0.0, 0.1725]))
END_RIM = 74.0
SPLIT_NECK = 70.0  # mm that the neck of `split` reaches below that of `end`
END_FLARE = 56.0  # from here up the wall stands upright, so that a head sits square on it


def end_radius(theta: Floats, z: Floats) -> Floats:
    """Outline that flares from a 32 mm neck to 80 by 54 mm, a little hollow behind."""
    share = np.clip(z / END_FLARE, 0, 1)
    flare = share**2 * (3 - 2 * share)
    half_x, half_y = 16.0 + 24.0 * flare, 15.0 + 12.0 * flare
    cos, sin = np.cos(theta), np.sin(theta)
    oval = (np.abs(cos / half_x) ** 2.4 + np.abs(sin / half_y) ** 2.4) ** (-1 / 2.4)
    behind = np.cos(theta + np.pi / 2)  # 1 towards -y
    return oval * (1 - 0.13 * flare * np.exp(-((1 - behind) / 0.12)))


def end_top(points: Floats) -> Floats:
    """Height of the joint end: a rounded rim, two shallow dishes and a low ridge between."""
    x, y = points[..., 0], points[..., 1]
    rho = np.hypot(x, y) / end_radius(np.arctan2(y, x), np.asarray(END_RIM))
    shoulder = 7.0 * np.sqrt(np.clip(1 - rho**7, 0, None))
    dishes = sum(
        3.2 * np.exp(-((((x - at) / 11.0) ** 2 + (y / 12.0) ** 2) ** 1.5)) for at in (-19.0, 19.0)
    )
    ridge = 1.6 * np.exp(-((x / 5.0) ** 2 + ((y - 1.0) / 12.0) ** 2))
    return END_RIM + shoulder - dishes + ridge


def _within_end(points: Floats) -> NDArray[np.bool_]:
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    rho = np.hypot(x, y) / end_radius(np.arctan2(y, x), z)
    return (rho < 1) & (z > 0) & ((z < END_RIM) | (z < end_top(points)))


def end_rough(a: Floats, b: Floats) -> Floats:
    """Coarser teeth than the shaft's: soft bone breaks unevenly."""
    return 0.35 * np.sin(0.45 * a) * np.cos(0.4 * b + 0.6) + 0.15 * np.sin(1.1 * a + 0.9 * b)


def end() -> dict[str, Mesh]:
    """The bone end's meshes: bone, joint surface and fracture."""
    theta = angles(60)
    share = np.array([0.3, 0.65])
    neck = end_radius(theta[None], np.zeros((1, 1)))
    base = [_flat(s * neck[0], theta, 0.0) for s in share]
    side = [_flat(end_radius(theta, np.asarray(z)), theta, z) for z in np.linspace(0, END_RIM, 26)]
    rim = end_radius(theta, np.asarray(END_RIM))
    cap = np.sin(np.linspace(np.pi / 2, 0, 15)[1:-1])
    top = [_crown(s * rim, theta) for s in cap]
    vertices, faces = stack(
        np.array([*base, *side, *top]), np.zeros(3), _crown(np.zeros(1), np.zeros(1))[0]
    )
    inner = np.flatnonzero((vertices[:, 2] > END_RIM) & (_rho(vertices) < 0.87))
    joint = np.isin(faces, inner).all(axis=1)
    crack = patch(END_PLANE, end_rough, _within_end, None, (80, 12))
    bone = combine({"outer": (vertices, faces[~joint]), "joint": (vertices, faces[joint])})
    return {
        "end": bone,
        "end_groups": combine(
            {
                "outer": (vertices, faces[~joint]),
                "joint": (vertices, faces[joint]),
                "fracture": crack,
            }
        ),
        "end_joint": combine({"joint": (vertices, faces[joint])}),
        "end_fracture": combine({"fracture": crack}),
    }


def split() -> dict[str, Mesh]:
    """The bone end on a longer neck, so that a plate finds room below the split."""
    theta = angles(60)
    down = -SPLIT_NECK
    neck = end_radius(theta[None], np.zeros((1, 1)))
    base = [_flat(s * neck[0], theta, down) for s in (0.3, 0.65)]
    low = [_flat(neck[0], theta, z) for z in np.linspace(down, 0.0, 12)[:-1]]
    side = [_flat(end_radius(theta, np.asarray(z)), theta, z) for z in np.linspace(0, END_RIM, 26)]
    rim = end_radius(theta, np.asarray(END_RIM))
    cap = np.sin(np.linspace(np.pi / 2, 0, 15)[1:-1])
    top = [_crown(s * rim, theta) for s in cap]
    bottom = np.array([0.0, 0.0, down])
    bone = stack(np.array([*base, *low, *side, *top]), bottom, _crown(np.zeros(1), np.zeros(1))[0])
    return {"split": combine({"outer": bone})}


def _flat(radius: Floats, theta: Floats, z: float) -> Floats:
    return np.column_stack([radius * np.cos(theta), radius * np.sin(theta), np.full(len(theta), z)])


def _crown(radius: Floats, theta: Floats) -> Floats:
    ring = _flat(radius, theta, 0.0)
    ring[:, 2] = end_top(ring)
    return ring


def _rho(points: Floats) -> Floats:
    x, y = points[:, 0], points[:, 1]
    return np.hypot(x, y) / end_radius(np.arctan2(y, x), np.asarray(END_RIM))
