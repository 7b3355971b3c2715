"""Ways in which a clean mesh gets dirty; each takes ``(vertices, faces)`` and gives another."""

from __future__ import annotations

import numpy as np
from specimens import box, joined


def _picked(mesh, share, seed):
    count = len(mesh[1])
    return np.random.default_rng(seed).permutation(count)[: max(1, round(share * count))]


def dropped(mesh, share=0.01, seed=0):
    """Some faces are missing."""
    vertices, faces = mesh
    return vertices, np.delete(faces, _picked(mesh, share, seed), axis=0)


def turned_over(mesh, share=0.05, seed=0):
    """Some faces are wound the other way round."""
    vertices, faces = mesh
    faces, rows = faces.copy(), _picked(mesh, share, seed)
    faces[rows] = faces[rows][:, ::-1]
    return vertices, faces


def repeated(mesh, share=0.05, seed=0):
    """Some faces are there twice, some of the copies turned over."""
    vertices, faces = mesh
    copies = faces[_picked(mesh, share, seed)]
    copies[::3] = copies[::3, ::-1]
    return vertices, np.concatenate([faces, copies])


def unmerged(mesh, scatter=1e-4, seed=0):
    """Every face has corners of its own, which no longer agree to the last digit, mm."""
    vertices, faces = mesh
    corners = vertices[faces].reshape(-1, 3)
    rng = np.random.default_rng(seed)
    return corners + rng.uniform(-scatter, scatter, corners.shape), np.arange(len(corners)).reshape(
        -1, 3
    )


def doubled(mesh, apart=0.01):
    """A second surface lies round the first, `apart` mm along the normals of the vertices."""
    vertices, faces = mesh
    a, b, c = vertices[faces].transpose(1, 0, 2)
    normal = np.zeros_like(vertices)
    np.add.at(normal, faces, np.cross(b - a, c - a)[:, None])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    return joined(mesh, (vertices + apart * normal, faces))


def slid(mesh, apart=0.01):
    """A second surface, shifted as a whole, so that the two run through each other."""
    vertices, faces = mesh
    return joined(mesh, (vertices + apart * np.array([0.6, 0.0, 0.8]), faces))


def with_slivers(mesh, share=0.05, seed=0):
    """Some edges carry a face of no area whose third corner is their middle or their end."""
    vertices, faces = mesh
    rows = _picked(mesh, share, seed)
    a, b = faces[rows, 0], faces[rows, 1]
    middle = len(vertices) + np.arange(len(rows))
    third = np.where(np.arange(len(rows)) % 2, middle, b)
    points = 0.5 * (vertices[a] + vertices[b])
    return np.concatenate([vertices, points]), np.concatenate(
        [faces, np.column_stack([a, b, third])]
    )


def with_strays(mesh, count=5, size=0.5, seed=0):
    """Small closed boxes float outside."""
    vertices, _ = mesh
    rng = np.random.default_rng(seed)
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    places = rng.uniform(low, high, (count, 3)) + (high - low).max()
    return joined(mesh, *(box(place, place + size) for place in places))


def soiled(mesh, seed=0):
    """A little of everything: missing, turned, repeated and flat faces, a stray piece."""
    mesh = turned_over(dropped(mesh, 0.005, seed), 0.02, seed + 1)
    return with_strays(with_slivers(repeated(mesh, 0.02, seed + 2), 0.02, seed + 3), 1)
