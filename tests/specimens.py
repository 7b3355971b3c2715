"""Small meshes that many tests share; every function returns ``(vertices, faces)``, mm."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np

_CUBE_CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
_CUBE_FACES = np.array([
    [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
    [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
])  # fmt: skip


def box(low=(0.0, 0.0, 0.0), high=(10.0, 10.0, 10.0)):
    """A closed box, normals outwards; faces 0 and 1 lie at low x, 2 and 3 at high x."""
    low, high = np.asarray(low, float), np.asarray(high, float)
    return low + _CUBE_CORNERS * (high - low), _CUBE_FACES.copy()


def cube(size=10.0, centre=(0.0, 0.0, 0.0)):
    centre = np.asarray(centre, float)
    return box(centre - size / 2, centre + size / 2)


def tetra(size=10.0):
    """Corner of a cube cut off: volume size³ / 6."""
    vertices = size * np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=float)
    return vertices, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])


def flipped(mesh):
    """The same mesh with its normals turned over."""
    vertices, faces = mesh
    return vertices, faces[:, ::-1].copy()


def joined(*meshes):
    """Several meshes as one; their vertices stay apart."""
    starts = np.cumsum([0] + [len(vertices) for vertices, _ in meshes])
    vertices = np.concatenate([vertices for vertices, _ in meshes])
    return vertices, np.concatenate(
        [faces + start for (_, faces), start in zip(meshes, starts, strict=False)]
    )


def flipped_cube(size=10.0):
    return flipped(cube(size))


def open_box(size=10.0):
    """A cube without its face at high z."""
    vertices, faces = cube(size)
    return vertices, faces[:-2]


def touching_boxes():
    """Two boxes, 10 and 20 mm long in x, that share the square at x = 10 triangle by triangle.

    The square's two copies are cut along the same diagonal, so that once equal vertices
    are merged its triangles coincide, oppositely wound.
    """
    return joined(box((0, 0, 0), (10, 10, 10)), box((10, 0, 0), (30, 10, 10)))


def nested_cubes(outer=30.0, inner=10.0, inner_outward=False):
    """A cube with a hollow; the hollow's normals point into it unless told otherwise."""
    hollow = cube(inner)
    return joined(cube(outer), hollow if inner_outward else flipped(hollow))


def lathe(radii, heights, sides=64):
    """A closed body turned about z; every radius is above zero."""
    angle = 2 * np.pi * np.arange(sides) / sides
    unit = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    rings = [
        np.column_stack([r * unit, np.full(sides, z)]) for r, z in zip(radii, heights, strict=True)
    ]
    ends = [[0, 0, heights[0]], [0, 0, heights[-1]]]
    i = np.arange(sides)
    j = (i + 1) % sides
    top = sides * (len(radii) - 1)
    bottom_middle, top_middle = np.full(sides, top + sides), np.full(sides, top + sides + 1)
    faces = [
        np.stack([bottom_middle, j, i], axis=1),
        np.stack([top_middle, top + i, top + j], axis=1),
    ]
    for a in range(0, top, sides):
        b = a + sides
        faces += [np.stack([a + i, a + j, b + j], axis=1), np.stack([a + i, b + j, b + i], axis=1)]
    return np.concatenate([*rings, ends]), np.concatenate(faces)


def cylinder(radius=10.0, length=100.0, sides=64, start=0.0):
    """A closed prism along z with its corners on the circle."""
    return lathe((radius, radius), (start, start + length), sides)


def tube(outer=14.0, inner=9.0, length=100.0, sides=64, wall=5.0):
    """A shaft with a closed canal inside; ``wall`` of bone is left at both ends."""
    canal = cylinder(inner, length - 2 * wall, sides, start=wall)
    return joined(cylinder(outer, length, sides), flipped(canal))


def pipe(outer=14.0, inner=9.0, length=100.0, sides=64):
    """A shaft that is open from end to end: one closed shell with a hole through it."""
    angle = 2 * np.pi * np.arange(sides) / sides
    unit = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    vertices = np.concatenate(
        [np.column_stack([r * unit, np.full(sides, z)]) for r, z in
         ((outer, 0.0), (outer, length), (inner, length), (inner, 0.0))]
    )  # fmt: skip
    i = np.arange(sides)
    j = (i + 1) % sides
    faces = []
    for ring in range(4):
        a, b = ring * sides, (ring + 1) % 4 * sides
        faces += [np.stack([a + i, a + j, b + j], axis=1), np.stack([a + i, b + j, b + i], axis=1)]
    return vertices, np.concatenate(faces)


def halves(gap=1.0, **sizes):
    """A shaft open at both ends, cut at 45 degrees to z; its upper half stands off by ``gap``."""
    vertices, faces = pipe(length=50.0, **sizes)
    slope = np.where(vertices[:, 2] == 50.0, vertices[:, 0], 0.0)
    flat, height = vertices[:, :2], vertices[:, 2]
    lower = np.column_stack([flat, height + slope])
    upper = np.column_stack([flat, 100.0 + gap - height + slope])
    return joined((lower, faces), flipped((upper, faces)))


def sphere(radius=10.0, subdivisions=3, centre=(0.0, 0.0, 0.0)):
    """An icosahedron, subdivided, its vertices on the sphere."""
    import trimesh

    mesh = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    return np.array(mesh.vertices) + np.asarray(centre, float), np.array(mesh.faces)


def empty():
    return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)


def real_bone(name):
    """Path of a bone surface (binary STL, metres) of the installed package myo-sim."""
    folder = find_spec("myo_sim").submodule_search_locations[0]
    return Path(folder) / "models" / "meshes" / name
