"""Build the demo bones: invented shapes, written the same way to the last bit every time.

    python scripts/make_meshes.py [FOLDER]

``shaft`` is a long bone with a modelled canal and an oblique fracture in its middle;
``end`` is the flared, solid end of a bone with a two-dished joint surface and a split that
runs from the joint down and out on one side. No patient stands behind either of them.
Each comes as STL and as OBJ with named groups; the fractures, the joint surface and a
nerve beside the shaft are STL files of their own. Lengths are mm.

Coordinates are rounded to `STEP`, so that the last bit of a sine, which differs between
machines, does not reach the files.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Inside: TypeAlias = Callable[[Floats], NDArray[np.bool_]]
Radius: TypeAlias = Callable[[Floats, Floats], Floats]

STEP_DECIMALS = 4

SHAFT_LENGTH = 220.0
SHAFT_MIDDLE = SHAFT_LENGTH / 2
SHAFT_PLANE = (np.array([0.0, 0.0, 110.0]), np.array([0.866, 0.0, 0.5]))
END_PLANE = (np.array([16.0, 0.0, 62.0]), np.array([0.966, 0.0, 0.259]))
END_RIM = 74.0


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles, and the group that each belongs to."""

    vertices: Floats  # (v, 3) mm
    faces: Ints  # (f, 3)
    groups: dict[str, Ints]  # name -> faces


# Building blocks


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
    centre: Callable[[Floats], Floats],
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
        return vertices, np.vstack([fan, _band(ring)])
    first = _leaves(place, hollow, len(phi))
    points = place(first + np.linspace(0, 1, count[1] + 1)[:, None] * (last - first))
    ring = np.arange(points[..., 0].size).reshape(-1, len(phi))
    return points.reshape(-1, 3), _band(ring)


def _band(ring: Ints) -> Ints:
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


# The shaft


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


def _within(radius: Radius, centre: Callable[[Floats], Floats]) -> Inside:
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
    outer = domed_loft(shaft_radius, shaft_centre, (8.0, SHAFT_LENGTH - 8.0), 8.0, (54, 44))
    canal = domed_loft(canal_radius, canal_centre, (16.0, SHAFT_LENGTH - 16.0), 5.0, (40, 24))
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


# The bone end


def end_radius(theta: Floats, z: Floats) -> Floats:
    """Outline that flares from a 32 mm neck to 80 by 54 mm, a little hollow behind."""
    share = np.clip(z / END_RIM, 0, 1)
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


def _flat(radius: Floats, theta: Floats, z: float) -> Floats:
    return np.column_stack([radius * np.cos(theta), radius * np.sin(theta), np.full(len(theta), z)])


def _crown(radius: Floats, theta: Floats) -> Floats:
    ring = _flat(radius, theta, 0.0)
    ring[:, 2] = end_top(ring)
    return ring


def _rho(points: Floats) -> Floats:
    x, y = points[:, 0], points[:, 1]
    return np.hypot(x, y) / end_radius(np.arctan2(y, x), np.asarray(END_RIM))


# Writing


def combine(parts: dict[str, tuple[Floats, Ints]]) -> Mesh:
    """One mesh of named parts; equal points become one, unused ones go."""
    corners = np.concatenate([np.round(v, STEP_DECIMALS)[f] for v, f in parts.values()]) + 0.0
    vertices, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    ends = np.cumsum([0, *(len(f) for _, f in parts.values())])
    groups = {
        name: np.arange(low, high)
        for name, low, high in zip(parts, ends[:-1], ends[1:], strict=True)
    }
    return Mesh(vertices, index.reshape(-1, 3), groups)


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


def files() -> dict[str, bytes]:
    """Every file by name."""
    meshes = shaft() | end()
    out = {
        f"{name}.stl": stl_bytes(mesh)
        for name, mesh in meshes.items()
        if not name.endswith("_groups")
    }
    return out | {f"{bone}.obj": obj_bytes(meshes[f"{bone}_groups"]) for bone in ("shaft", "end")}


def main(folder: Path) -> None:
    """Write every file into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files().items():
        (folder / name).write_bytes(content)
        print(f"{folder / name}: {len(content):,} bytes")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "meshes")
