"""Taking a surface apart into shells, and finding how they nest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._edges import EdgeTable, Joints, edge_table, join_faces
from trajplan.bone._nesting import nest
from trajplan.bone._types import Shells

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Int8s, Ints
    from trajplan.bone._types import Surface

__all__ = ["find_shells"]


def find_shells(surface: Surface) -> Shells:
    """Take a surface apart into connected shells, and find how they nest.

    Parameters
    ----------
    surface : Surface
        Any surface with a face in it.

    Returns
    -------
    Shells
        Numbered by their first face. Faces with a repeated corner bound nothing: they
        count with a shell that they touch, and neither open nor close it.

    Notes
    -----
    Where solids touch along an edge or in a face, they come apart into a shell each, as
    far as the normals tell; where they do not, the shell does not count as closed.
    """
    edges = edge_table(surface.faces)
    signed_volume = _tetrahedra(surface)
    outward = _guess_outward(len(surface.faces), edges, signed_volume)
    joints = join_faces(surface.vertices, edges, outward)
    of_face = _collect_collapsed(surface.faces, edges, _components(len(surface.faces), joints))
    count = int(of_face.max()) + 1
    closed = np.bincount(of_face[edges.face], minlength=count) > 0
    closed[of_face[joints.opened]] = False
    wound = np.ones(count, dtype=bool)
    wound[of_face[joints.turned]] = False
    volume = np.bincount(of_face, signed_volume, count).astype(np.float64)
    nesting, body = nest(surface, of_face, closed, wound)
    outward = np.where(volume < 0.0, -1, 1).astype(np.int8)
    volume = np.abs(volume)
    freeze(of_face, closed, wound, outward, nesting, body, volume)
    return Shells(of_face, closed, wound, outward, nesting, body, volume)


def _tetrahedra(surface: Surface) -> Floats:
    """Signed volume between each face and a point in the middle of the surface."""
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    points = surface.vertices - 0.5 * (low + high)
    a, b, c = (points[column] for column in surface.faces.T)
    volume: Floats = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return volume


def _guess_outward(faces: int, edges: EdgeTable, signed_volume: Floats) -> Int8s:
    """Sign of each face's normals, judged by everything that hangs together with it."""
    if not (edges.counts() > 2).any():
        return np.ones(faces, dtype=np.int8)
    follows = np.flatnonzero(np.diff(np.repeat(np.arange(len(edges.low)), edges.counts())) == 0)
    piece = _label(faces, edges.face[follows], edges.face[follows + 1])
    volume = np.bincount(piece, signed_volume)
    return np.where(volume < 0.0, -1, 1).astype(np.int8)[piece]


def _components(faces: int, joints: Joints) -> Ints:
    return _label(faces, joints.first, joints.second)


def _label(count: int, first: Ints, second: Ints) -> Ints:
    """Return the connected piece of each face, pieces numbered by their first face."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = coo_array((np.ones(len(first), dtype=np.int8), (first, second)), shape=(count, count))
    return connected_components(links, directed=False)[1].astype(np.int64)


def _collect_collapsed(faces: Ints, edges: EdgeTable, label: Ints) -> Ints:
    """Give faces with a repeated corner to a shell that they touch, and close the numbers."""
    sound = np.zeros(len(faces), dtype=bool)
    sound[edges.face] = True
    if not sound.all():
        label = label.copy()
        at_vertex = np.full(int(faces.max()) + 1, -1)
        at_vertex[faces[sound]] = label[sound, None]
        touched = at_vertex[faces[~sound]].max(axis=1)
        label[~sound] = np.where(touched < 0, label[~sound], touched)
        _, first, label = np.unique(label, return_index=True, return_inverse=True)
        label = np.argsort(np.argsort(first))[label]
    return label.astype(np.int64)
