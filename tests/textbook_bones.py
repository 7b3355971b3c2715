"""Bones of the textbook suite: invented ones in closed shapes, and real ones in millimetres.

Every function returns ``(vertices, faces)``. The invented ones stand upright along z, their
sizes from the tables of anatomy named beside them. Real ones come from the package myo-sim
(Apache-2.0), which stores metres; nothing of it is copied in.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from specimens import cylinder, flipped, joined, lathe, real_bone

SIDES = 96


# Shafts: a canal is modelled, so the walls are known


def tibia():
    """26 mm across with 6 mm walls: 22 to 26 mm and 4 to 8 mm (anatomy texts, from memory)."""
    return _shaft(13.0, 7.0, 240.0)


def forearm():
    """13 mm across, canal 6 mm: narrowest canal of the radius 5.2 mm (Preterms et al. 2021)."""
    return _shaft(6.5, 3.0, 200.0)


def metacarpal():
    """9 mm across, canal 3.4 mm: 2.6 to 3.9 mm (Dunleavy et al. 2022, abstract)."""
    return _shaft(4.5, 1.7, 60.0)


def spiral(rise=90.0, turn=270.0, steps=(10, 241)):
    """The patch of a spiral fracture of `tibia`: round by ``turn`` degrees, and steeply back.

    A sheet through the whole shaft, canal and all: a screw through the middle crosses it there.
    """
    share = np.linspace(0.0, 1.0, steps[1])
    back = turn / 360.0
    height = 120.0 + rise * (np.interp(share, [0.0, back, 1.0], [-0.5, 0.5, -0.5]))
    r, t = (a.ravel() for a in np.meshgrid(np.linspace(0.5, 13.5, steps[0]), 2.0 * np.pi * share))
    vertices = np.column_stack([r * np.cos(t), r * np.sin(t), np.repeat(height, steps[0])])
    i, j = np.meshgrid(np.arange(steps[1] - 1), np.arange(steps[0] - 1), indexing="ij")
    p = (i * steps[0] + j).ravel()
    q = p + steps[0]
    return vertices, np.concatenate([np.stack([p, p + 1, q], 1), np.stack([p + 1, q + 1, q], 1)])


def pipe(outer=13.0, inner=7.0, length=100.0, ring=4.0):
    """A piece of `tibia` as a scan cuts it off: open canal at both ends, one closed shell."""
    heights = np.linspace(0.0, length, round(length / ring) + 1)
    radius = np.concatenate([np.full(len(heights), outer), np.full(len(heights), inner)])
    angle = 2.0 * np.pi * np.arange(SIDES) / SIDES
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    rings = [
        np.column_stack([r * circle, np.full(SIDES, z)])
        for r, z in zip(radius, [*heights, *heights[::-1]], strict=True)
    ]
    i, j = np.arange(SIDES), np.roll(np.arange(SIDES), -1)
    faces = []
    for a in range(len(rings)):
        low, high = a * SIDES, (a + 1) % len(rings) * SIDES
        faces += [np.stack([low + i, low + j, high + j], 1)]
        faces += [np.stack([low + i, high + j, high + i], 1)]
    return np.concatenate(rings), np.concatenate(faces)


def broken(bone, point, normal, moved=(0.0, 0.0, 0.0)):
    """Both fragments of a bone that a plane cuts, the one on the normal's side moved off."""
    upper, lower = _solid(bone).split_by_plane(*_half(point, normal))
    return _mesh(lower), _mesh(upper.translate(tuple(map(float, moved))))


def wedge_shaft():
    """`tibia` broken in three: a lower and an upper fragment, and a wedge 57 mm long."""
    solid = _solid(tibia())
    edge, steep, slant = np.array([-2.0, 0.0, 120.0]), 1.9, 1.2
    wedge = solid
    for face in ((steep, 0.0, 1.0), (steep, 0.0, -1.0)):
        wedge = wedge.trim_by_plane(*_half(edge, face))
    upper, lower = (solid - wedge).split_by_plane(*_half(edge, (slant, 0.0, 1.0)))
    return _mesh(lower), _mesh(upper), _mesh(wedge)


# Bone ends: solid, so the wall is what the case assumes


def ankle():
    """The lower end of a tibia, 48 by 40 mm; its inner malleolus is two humps, 16 mm down."""
    radii = [13.0, 13.5, 17.0, 23.0, 24.0, 18.0, 12.0, 6.0]  # the joint in rings, to pick on
    shaft = _oval(radii, [120.0, 80.0, 45.0, 15.0, 0.0, 0.0, 0.0, 0.0], 0.85)
    front, back = (_ellipsoid((9.0, 8.0, 17.0), (18.0, y, 1.0)) for y in (6.0, -6.0))
    return _mesh(_solid(shaft) + front + back)


def condyles():
    """The upper end of a tibia, 76 by 50 mm with flat sides, cut flat at the joint."""
    heights = np.array([0.0, 12.0, 25.0, 38.0, 50.0, 58.0, 64.0, 70.0, 75.0, 80.0])
    wide = np.interp(heights, [0.0, 25.0, 50.0, 64.0, 80.0], [16.0, 18.0, 29.0, 38.0, 38.0])
    vertices, faces = lathe(wide, heights, SIDES)
    angle = np.arctan2(vertices[:, 1], vertices[:, 0])
    square = (np.abs(np.cos(angle)) ** 3 + np.abs(np.sin(angle) / 0.66) ** 3) ** (-1.0 / 3.0)
    return vertices * np.column_stack([square, square, np.ones(len(square))]), faces


def hip():
    """The upper end of a femur: neck 34 mm thick at 130 degrees, head 48 mm across."""
    shaft = _solid(cylinder(15.0, 160.0, SIDES, start=-130.0))
    neck = _solid(cylinder(17.0, 75.0, SIDES, start=-8.0)).rotate((0.0, 50.0, 0.0))
    head = _ellipsoid((24.0, 24.0, 24.0), tuple(62.0 * NECK))
    trochanter = _ellipsoid((18.0, 20.0, 26.0), (-4.0, 0.0, 12.0))
    return _mesh(shaft + neck + trochanter + head)


#: From the middle of the invented hip's shaft to its head.
NECK = np.array([np.sin(np.radians(50.0)), 0.0, np.cos(np.radians(50.0))])


def kneecap():
    """46 by 22 by 42 mm, z from tip to base."""
    return _mesh(_ellipsoid((23.0, 11.0, 21.0), (0.0, 0.0, 0.0)))


# Real bones


def real(name):
    """A bone of the package myo-sim, in mm."""
    import trimesh

    mesh = trimesh.load(real_bone(name), process=False)
    return np.asarray(mesh.vertices, float) * 1000.0, np.asarray(mesh.faces)


# Solids


def _shaft(outer, inner, length, end=6.0, ring=4.0):
    """A tube closed at both ends, a ring of corners every 4 mm as a scan would give them."""

    def rod(radius, low, high):
        heights = np.linspace(low, high, round((high - low) / ring) + 1)
        return lathe(np.full(len(heights), radius), heights, SIDES)

    return joined(rod(outer, 0.0, length), flipped(rod(inner, end, length - end)))


def _oval(radii, heights, flat):
    """A body turned about z, pressed flat along y."""
    vertices, faces = lathe(tuple(radii), tuple(heights), SIDES)
    vertices = vertices * [1.0, flat, 1.0]
    if heights[0] > heights[-1]:
        faces = faces[:, ::-1]
    return vertices, np.ascontiguousarray(faces)


def _ellipsoid(half, centre):
    return manifold3d.Manifold.sphere(1.0, SIDES).scale(half).translate(centre)


def _solid(mesh):
    import trimesh

    made = trimesh.Trimesh(*mesh, process=True)
    return manifold3d.Manifold(
        manifold3d.Mesh(
            vert_properties=np.asarray(made.vertices, np.float32),
            tri_verts=np.asarray(made.faces, np.uint32),
        )
    )


def _mesh(solid):
    mesh = solid.to_mesh()
    return np.asarray(mesh.vert_properties[:, :3], float), np.asarray(mesh.tri_verts, np.int64)


def _unit(vector):
    vector = np.asarray(vector, float)
    return vector / np.linalg.norm(vector)


def _half(point, normal):
    """A plane as manifold3d trims by it: what lies on the normal's side is kept."""
    normal = _unit(normal)
    return tuple(normal), float(normal @ np.asarray(point, float))
