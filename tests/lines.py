"""Lines that many tests cast; most functions return ``(origin, direction)``."""

from __future__ import annotations

import numpy as np

from trajplan.arrays import rows_of

#: Where `turned` puts a mesh.
SHIFT = np.array([3.7, -2.9, 11.3])


def unit(vectors):
    return vectors / np.linalg.norm(vectors, axis=1)[:, None]


def random_lines(count, low=-12.0, high=12.0, seed=0):
    """Lines through random points of a box, in random directions, from 100 mm before."""
    rng = np.random.default_rng(seed)
    direction = unit(rng.normal(size=(count, 3)))
    return rng.uniform(low, high, (count, 3)) - 100.0 * direction, direction


def aimed_lines(mesh, count, seed=0):
    """Lines aimed at vertices and at middles of edges, half of them along an axis.

    Those along an axis pass through the vertex to the last bit; a third of the others run in
    the plane of a face.
    """
    vertices, faces = mesh
    rng = np.random.default_rng(seed)
    face = faces[rng.integers(len(faces), size=count)]
    a, b, c = vertices[face].transpose(1, 0, 2)
    target = np.where(rng.random((count, 1)) < 0.5, a, 0.5 * (a + b))
    direction = unit(rng.normal(size=(count, 3)))
    along_face = rng.random(count) < 0.3
    direction[along_face] = unit(rng.normal(size=(count, 1)) * (b - a) + (c - a))[along_face]
    on_axis = rng.random(count) < 0.5
    direction[on_axis] = np.eye(3)[rng.integers(3, size=on_axis.sum())]
    direction[rng.random(count) < 0.5] *= -1.0
    # a power of two keeps the coordinates of lines along an axis exact
    return target - 64.0 * direction, direction


def turned(mesh, seed=0):
    """A mesh in a random attitude, so that no coordinate is round."""
    from scipy.spatial.transform import Rotation

    vertices, faces = mesh
    rotation = Rotation.random(rng=np.random.default_rng(seed))
    return rotation.apply(vertices) + SHIFT, faces


def rows(offsets, values):
    """Ragged rows as a list of arrays."""
    return np.split(values, offsets[1:-1]) if len(offsets) > 1 else []


def grazing(bone, origin, direction, solid):
    """Lines that run along some face, or through less than 0.005 mm of bone."""
    hits = bone.caster.crossings(origin, direction)
    line = rows_of(hits.offsets)
    flat = np.abs(np.einsum("ij,ij->i", bone.normals[hits.face], direction[line])) < 0.02
    short = solid.end - solid.start < 5e-3
    return np.isin(np.arange(len(origin)), np.r_[line[flat], rows_of(solid.offsets)[short]])
