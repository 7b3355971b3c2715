"""A fracture surface in small cells, each with its moments and its neighbours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial import cKDTree

from trajplan.fracture._edges import edge_graph, edges_of, pieces_of, sharing

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s

__all__ = ["Cells", "cells_of", "plane_error", "sum_up"]

#: Cells that a surface is cut into, about: fine enough for a seam, few enough to be quick.
CELLS = (100, 1_000)
#: Faces in a cell, about: roughness from one vertex to the next then evens out within the
#: cell, and no division can take it for form.
FACES = 8
#: A gap is bridged where it is no wider than this many times its least width (assumption).
NARROW = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Parts of a surface, and how they hang together (all of them do)."""

    of_face: Ints  # (f,) cell of each face
    moments: Floats  # (c, 4, 4) integral of (x, y, z, 1) (x, y, z, 1)^T over the cell's faces
    links: Ints  # (e, 2) neighbouring cells

    @property
    def area(self) -> Floats:
        """Area of each cell, (c,) mm²."""
        area: Floats = self.moments[:, 3, 3]
        return area


def cells_of(points: Vec3s, faces: Ints) -> Cells:
    """Cut a surface into cells: the faces whose middles share a small cube.

    Parameters
    ----------
    points : (v, 3) float array, mm
        Vertices; about the middle of the surface, lest the moments lose their digits.
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    Cells
        A large face is a cell by itself. Cells are neighbours where faces share an edge or
        the cubes touch, so a crack of the mesh parts nothing; pieces that lie apart are
        linked where they are nearest.
    """
    moments = _moments(points[faces])
    size = np.sqrt(moments[:, 3, 3].sum() / np.clip(len(faces) / FACES, *CELLS))
    middles = _smooth(points, faces, size)[faces].mean(axis=1)
    cubes, of_face = np.unique(
        np.floor(middles / size).astype(np.int64), axis=0, return_inverse=True
    )
    of_face = of_face.reshape(-1)
    links = np.concatenate(
        [of_face[sharing(faces)], cKDTree(cubes).query_pairs(1.0, np.inf, output_type="ndarray")]
    )
    links = np.unique(np.sort(links[links[:, 0] != links[:, 1]], axis=1), axis=0)
    return Cells(of_face, sum_up(moments, of_face, len(cubes)), _bridged(links, cubes))


def sum_up(moments: Floats, label: Ints, count: int) -> Floats:
    """Moments of groups of cells.

    Parameters
    ----------
    moments : (n, 4, 4) float array
        Moments of the cells.
    label : (n,) int array
        Group of each.
    count : int
        Number of groups.

    Returns
    -------
    (count, 4, 4) float array
    """
    summed = np.zeros((count, 16))
    for k, column in enumerate(moments.reshape(-1, 16).T):
        summed[:, k] = np.bincount(label, weights=column, minlength=count)
    return summed.reshape(-1, 4, 4)


def plane_error(moments: Floats) -> Floats:
    """Integral of the squared height over the best plane.

    Parameters
    ----------
    moments : (..., 4, 4) float array
        Moments as of `Cells`.

    Returns
    -------
    (...) float array, mm⁴
    """
    first = moments[..., :3, 3]
    area = np.maximum(moments[..., 3, 3], np.finfo(float).tiny)
    scatter = moments[..., :3, :3] - first[..., :, None] * (first / area[..., None])[..., None, :]
    least: Floats = np.maximum(np.linalg.eigvalsh(scatter)[..., 0], 0.0)
    return least


def _moments(triangles: Floats) -> Floats:
    """Exact moments of triangles: area/12 (a aᵀ + b bᵀ + c cᵀ + s sᵀ), s = a + b + c."""
    a, b, c = triangles.transpose(1, 0, 2)
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    corner = np.concatenate([triangles, np.ones((*triangles.shape[:2], 1))], axis=2)
    total = corner.sum(axis=1)
    second = np.einsum("fki,fkj->fij", corner, corner) + total[:, :, None] * total[:, None, :]
    moments: Floats = area[:, None, None] / 12.0 * second
    return moments


def _smooth(points: Vec3s, faces: Ints, length: float) -> Vec3s:
    """Points evened out over a length, so that a rough surface lies in one layer of cubes."""
    edges, _ = edges_of(faces)
    near = edge_graph(edges, len(points))
    number = np.maximum(near.sum(axis=1), 1.0)[:, None]
    step = np.median(np.linalg.norm(np.diff(points[edges], axis=1), axis=2))
    for _ in range(int((length / step) ** 2)):  # steps of a random walk so long
        points = near @ points / number
    return points


def _bridged(links: Ints, cubes: Ints) -> Ints:
    """Links, and those that join what they leave apart: across a gap, where it is narrow."""
    piece = pieces_of(links, len(cubes))
    if piece.max() == 0:
        return links
    apart = np.linalg.norm(cubes[:, None] - cubes[None], axis=2)
    joined = piece[:, None] == piece[None]  # the tree prefers what is joined already
    tree = minimum_spanning_tree(np.where(joined, 1e-6 * apart, apart)).tocoo()
    bridges = [links]
    for a, b in zip(tree.row, tree.col, strict=True):
        if not joined[a, b]:
            one, other = np.flatnonzero(joined[a]), np.flatnonzero(joined[b])
            near = np.argwhere(apart[np.ix_(one, other)] <= NARROW * apart[a, b])
            bridges.append(np.column_stack([one[near[:, 0]], other[near[:, 1]]]))
    return np.concatenate(bridges)
