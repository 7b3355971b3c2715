"""Building blocks of the demo meshes: stacks of rings, rough surfaces, STL and OBJ bytes.

Coordinates are rounded to `STEP_DECIMALS`, so that the last bit of a sine, which differs
between machines, does not reach the files.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Inside: TypeAlias = Callable[[Floats], NDArray[np.bool_]]
Radius: TypeAlias = Callable[[Floats, Floats], Floats]
Centre: TypeAlias = Callable[[Floats], Floats]

STEP_DECIMALS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles, and the group that each belongs to."""

    vertices: Floats  # (v, 3) mm
    faces: Ints  # (f, 3)
    groups: dict[str, Ints]  # name -> faces


def stack(rings: Floats, bottom: Floats, top: Floats) -> tuple[Floats, Ints]:
    """Close a stack of rings (k, m, 3), lowest first, with a pole at either end."""
    k, m = rings.shape[:2]
    ring = np.arange(k * m).reshape(k, m)
    a, b = ring[:-1], np.roll(ring, -1, axis=1)[:-1]
    c, d = np.roll(ring, -1, axis=1)[1:], ring[1:]
    sides = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    low = np.stack([np.full(m, k * m), np.roll(ring[0], -1), ring[0]], axis=-1)
    high = np.stack([ring[-1], np.roll(ring[-1], -1), np.full(m, k * m + 1)], axis=-1)
    vertices = np.vstack([rings.reshape(-1, 3), bottom, top])
    return vertices, np.vstack([low, sides, high])


def angles(count: int) -> Floats:
    """Evenly spaced angles round the whole circle."""
    return 2 * np.pi * np.arange(count) / count


def domed_loft(
    radius: Radius,
    centre: Centre,
    span: tuple[float, float],
    dome: float,
    count: tuple[int, int],
) -> tuple[Floats, Ints]:
    """Sweep an outline along z and close it with shallow domes of a given height."""
    stations, around = count
    theta = angles(around)
    share = np.sin(np.linspace(0, np.pi / 2, 5)[1:])
    low, high = span
    z = np.concatenate([np.full(4, low), np.linspace(low, high, stations)[1:-1], np.full(4, high)])
    scale = np.concatenate([share, np.ones(stations - 2), share[::-1]])
    lift = np.zeros_like(z)
    lift[:4] = -dome * np.sqrt(1 - share**2)
    lift[-4:] = -lift[:4][::-1]
    r = scale[:, None] * radius(theta[None], z[:, None])
    middle = centre(z)
    rings = np.stack(
        [
            middle[:, :1] + r * np.cos(theta),
            middle[:, 1:] + r * np.sin(theta),
            np.broadcast_to((z + lift)[:, None], r.shape),
        ],
        axis=-1,
    )
    poles = [
        np.array([*centre(np.array([at]))[0], at + up]) for at, up in ((low, -dome), (high, dome))
    ]
    return stack(rings, *poles)


def patch(
    plane: tuple[Floats, Floats],
    rough: Callable[[Floats, Floats], Floats],
    outer: Inside,
    hollow: Inside | None,
    count: tuple[int, int],
) -> tuple[Floats, Ints]:
    """Rough surface about a plane that covers the bone's cross-section and ends on its skin.

    The plane's point must lie inside the section, in the hollow where there is one.
    """
    point, normal = plane
    w = normal / np.linalg.norm(normal)
    u = np.cross([0.0, 1.0, 0.0], w)
    u /= np.linalg.norm(u)
    v = np.cross(w, u)
    phi = angles(count[0])

    def place(rho: Floats) -> Floats:
        a, b = rho * np.cos(phi), rho * np.sin(phi)
        return point + a[..., None] * u + b[..., None] * v + rough(a, b)[..., None] * w

    last = _leaves(place, outer, len(phi))
    if hollow is None:
        share = np.linspace(0, 1, count[1] + 1)[1:, None]
        points = place(share * last)
        ring = np.arange(points[..., 0].size).reshape(len(share), -1)
        hub = ring.size
        fan = np.stack([np.full(ring.shape[1], hub), ring[0], np.roll(ring[0], -1)], axis=-1)
        vertices = np.vstack([points.reshape(-1, 3), place(np.zeros(len(phi)))[:1]])
        return vertices, np.vstack([fan, band(ring)])
    first = _leaves(place, hollow, len(phi))
    points = place(first + np.linspace(0, 1, count[1] + 1)[:, None] * (last - first))
    ring = np.arange(points[..., 0].size).reshape(-1, len(phi))
    return points.reshape(-1, 3), band(ring)


def band(ring: Ints) -> Ints:
    """Join rings of points (k, m), each to the next, by triangles."""
    a, b = ring[:-1], np.roll(ring, -1, axis=1)[:-1]
    c, d = np.roll(ring, -1, axis=1)[1:], ring[1:]
    return np.stack([a, c, b, a, d, c], axis=-1).reshape(-1, 3)


def _leaves(place: Callable[[Floats], Floats], inside: Inside, count: int) -> Floats:
    """Distance at which each ray from the middle leaves a body, by bisection."""
    low, high = np.zeros(count), np.full(count, 150.0)
    for _ in range(40):
        middle = (low + high) / 2
        within = inside(place(middle))
        low, high = np.where(within, middle, low), np.where(within, high, middle)
    return low


def combine(parts: dict[str, tuple[Floats, Ints]]) -> Mesh:
    """One mesh of named parts; equal points become one, faces that then have no area go."""
    corners = np.concatenate([np.round(v, STEP_DECIMALS)[f] for v, f in parts.values()]) + 0.0
    vertices, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    whole = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
    part = np.repeat(np.arange(len(parts)), [len(f) for _, f in parts.values()])[whole]
    groups = {name: np.flatnonzero(part == number) for number, name in enumerate(parts)}
    return Mesh(vertices, faces[whole], groups)


def stl_bytes(mesh: Mesh) -> bytes:
    """Binary STL, float32 little-endian."""
    corners = mesh.vertices[mesh.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal = np.round(normal / np.linalg.norm(normal, axis=1, keepdims=True), 5) + 0.0
    record = np.zeros(len(corners), dtype=[("floats", "<f4", 12), ("extra", "<u2")])
    record["floats"] = np.hstack([normal, corners.reshape(-1, 9)])
    header = b"invented demo mesh, not from any person; unit mm".ljust(80)
    return header + np.uint32(len(corners)).astype("<u4").tobytes() + record.tobytes()


def obj_bytes(mesh: Mesh) -> bytes:
    """Wavefront OBJ with one group a part."""
    lines = ["# invented demo mesh, not from any person; unit mm"]
    lines += [f"v {x:.4f} {y:.4f} {z:.4f}" for x, y, z in mesh.vertices]
    for name, rows in mesh.groups.items():
        lines.append(f"g {name}")
        lines += [f"f {a} {b} {c}" for a, b, c in mesh.faces[rows] + 1]
    return ("\n".join(lines) + "\n").encode("ascii")
