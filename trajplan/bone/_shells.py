"""Taking a surface apart into shells, and finding how they nest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._copies import copies_of_shells
from trajplan.bone._edges import EdgeTable, Joints, edge_table, join_faces
from trajplan.bone._nesting import nest
from trajplan.bone._orient import signed_volumes
from trajplan.bone._types import Shells
from trajplan.bone._weld import near_borders

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Int8s, Ints
    from trajplan.bone._types import Surface

__all__ = ["find_shells"]


def find_shells(surface: Surface, edges: EdgeTable | None = None) -> Shells:
    """Take a surface apart into connected shells, and find how they nest.

    Parameters
    ----------
    surface : Surface
        Any surface with a face in it.
    edges : EdgeTable, optional
        Its edges, where they are known already.

    Returns
    -------
    Shells
        Numbered by their first face. Faces with a repeated corner bound nothing: they
        count with a shell that they touch, and neither open nor close it.

    Notes
    -----
    Where solids touch along an edge or in a face, they come apart into a shell each, as
    far as the normals tell; where they do not, the shell does not count as closed. Open
    pieces whose borders lie on one another are one shell, though still an open one.
    """
    edges = edges or edge_table(surface.faces)
    signed_volume = signed_volumes(surface.vertices, surface.faces)
    outward = _guess_outward(len(surface.faces), edges, signed_volume)
    joints = join_faces(surface.vertices, edges, outward)
    label = _pieces(surface, edges, joints)
    of_face = _collect_collapsed(surface.faces, edges, label)
    count = int(of_face.max()) + 1
    closed = np.bincount(of_face[edges.face], minlength=count) > 0
    closed[of_face[joints.opened]] = False
    wound = np.ones(count, dtype=bool)
    wound[of_face[joints.turned]] = False
    volume = np.bincount(of_face, signed_volume, count).astype(np.float64)
    original = copies_of_shells(surface, of_face, closed)
    nesting, body, poking, unsure = nest(surface, of_face, closed & wound, original, np.abs(volume))
    outward = np.where(volume < 0.0, -1, 1).astype(np.int8)
    volume = np.abs(volume)
    copy = original != np.arange(count)
    freeze(of_face, closed, wound, outward, nesting, body, volume, copy, poking, unsure)
    return Shells(of_face, closed, wound, outward, nesting, body, volume, copy, poking, unsure)


def _guess_outward(faces: int, edges: EdgeTable, signed_volume: Floats) -> Int8s:
    """Sign of each face's normals, judged by everything that hangs together with it."""
    if not (edges.counts() > 2).any():
        return np.ones(faces, dtype=np.int8)
    follows = np.flatnonzero(np.diff(np.repeat(np.arange(len(edges.low)), edges.counts())) == 0)
    piece = _label(faces, edges.face[follows], edges.face[follows + 1])
    volume = np.bincount(piece, signed_volume)
    return np.where(volume < 0.0, -1, 1).astype(np.int8)[piece]


def _pieces(surface: Surface, edges: EdgeTable, joints: Joints) -> Ints:
    """Pieces that hang together; open ones also where their borders lie on one another."""
    count = len(surface.faces)
    label = _label(count, joints.first, joints.second)
    if len(np.unique(label[joints.opened])) < 2:
        return label
    first, second = near_borders(surface.vertices, edges)
    return _label(
        count, np.concatenate([joints.first, first]), np.concatenate([joints.second, second])
    )


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
