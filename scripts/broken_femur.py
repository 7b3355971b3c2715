"""The femur of the package myo-sim, broken, as an image would show it: fragments of any fineness.

A canal is modelled, the break is rough, and each fragment is contoured by itself, so that no
two share a vertex. Soiled, a fragment also has slivers and open edges.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyvista as pv
from scipy.ndimage import zoom

from trajplan.bone import SurfaceDistance, as_surface, point_distance, read_surface
from trajplan.bone._libigl import WindingTree

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["broken_femur", "soiled"]

#: mm: grid of the distance field, wall of the shaft, half the gap of the break.
GRID, WALL, GAP = 2.5, 6.0, 0.15
#: Share of faces that are split into slivers, and that are dropped, where a fragment is soiled.
SLIVERS, DROPPED = 0.01, 0.001
#: mm: height of a sliver.
THIN = 1e-4


@cache
def _field() -> tuple[Floats, Floats]:
    """Signed distance of the femur, negative inside, on a grid, and where the grid begins."""
    spec = find_spec("myo_sim")
    assert spec is not None and spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "models" / "meshes"
    surface = read_surface(folder / "r_femur.stl", unit="m")
    low, high = surface.vertices.min(axis=0) - 6.0, surface.vertices.max(axis=0) + 6.0
    ranges = [np.arange(a, b, GRID) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*ranges, indexing="ij"), axis=-1)
    points = grid.reshape(-1, 3)
    away = point_distance(SurfaceDistance.of(as_surface(surface)), points)
    inside = WindingTree(surface.vertices, surface.faces).number(points) > 0.5
    return np.where(inside, -away, away).reshape(grid.shape[:3]), low


def broken_femur(voxel: float) -> list[tuple[Vec3s, Ints]]:
    """Break the femur obliquely at mid-shaft.

    Parameters
    ----------
    voxel : float, mm
        Grid of the contour.

    Returns
    -------
    list of (vertices, faces)
        Two fragments, mm.
    """
    field, low = _field()
    image = zoom(field.astype(np.float32), GRID / voxel, order=1, grid_mode=False)
    step = (np.array(field.shape) - 1) * GRID / (np.array(image.shape) - 1)
    x, y, z = np.ogrid[tuple(slice(0, n) for n in image.shape)]
    x, y, z = (low[k] + step[k] * at.astype(np.float32) for k, at in enumerate((x, y, z)))
    long = int(np.argmax(image.shape))
    along, across, beside = ((x, y, z)[(long + k) % 3] for k in range(3))
    middle = float(along.mean())
    rough = 0.4 * np.sin(0.4 * across + 0.3 * beside) + 0.2 * np.sin(0.9 * beside - across)
    height = 0.5 * (along - middle) - np.sqrt(0.75) * (across - float(across.mean())) + rough
    np.maximum(image, -image - WALL, out=image)
    return [_contour(np.maximum(image, side * height + GAP), step, low) for side in (1.0, -1.0)]


def _contour(image: Floats, step: Floats, low: Floats) -> tuple[Vec3s, Ints]:
    volume = pv.ImageData(dimensions=image.shape, spacing=tuple(step), origin=tuple(low))
    volume.point_data["image"] = image.ravel(order="F")
    mesh = volume.contour([0.0], scalars="image", method="flying_edges").connectivity("largest")
    faces = mesh.faces.reshape(-1, 4)[:, 1:]
    vertices = np.array(mesh.points, dtype=np.float64)
    a, b, c = vertices[faces].transpose(1, 0, 2)
    turned = np.einsum("ij,ij->", a, np.cross(b, c)) < 0.0
    return vertices, np.ascontiguousarray(faces[:, ::-1] if turned else faces, dtype=np.int64)


def soiled(vertices: Vec3s, faces: Ints, seed: int) -> tuple[Vec3s, Ints]:
    """Split some faces into slivers and drop others.

    Parameters
    ----------
    vertices, faces : arrays
        A fragment.
    seed : int
        Same seed, same dirt.

    Returns
    -------
    vertices, faces : arrays
    """
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(faces))
    split, dropped = np.split(
        order[: int((SLIVERS + DROPPED) * len(faces))], [int(SLIVERS * len(faces))]
    )
    a, b, c = vertices[faces[split]].transpose(1, 0, 2)
    edge = 0.5 * (a + b)
    way = c - edge
    apex = edge + THIN * way / np.linalg.norm(way, axis=1, keepdims=True)
    new = len(vertices) + np.arange(len(split))
    i, j, k = faces[split].T
    parts = [np.column_stack(p) for p in ((i, j, new), (j, k, new), (k, i, new))]
    kept = np.delete(faces, np.concatenate([split, dropped]), axis=0)
    return np.concatenate([vertices, apex]), np.concatenate([kept, *parts])
