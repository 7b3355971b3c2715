"""Normals of a bone's faces that point out of bone, and their calming of noise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array

from trajplan.bone import oriented

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone import Bone

__all__ = ["areas", "calmed", "neighbours", "outward_normals", "units"]

#: Rounds of averaging over neighbouring faces.
ROUNDS = 4
#: Cosine of the angle (53 degrees) from which neighbours are not averaged: the rim between
#: fracture surface and outer surface is to stay sharp.
SHARP = 0.6


def outward_normals(bone: Bone) -> Vec3s:
    """Unit normals out of bone: into the canal where a shell bounds one.

    Parameters
    ----------
    bone : Bone
        The bone.

    Returns
    -------
    (f, 3) float array
        Zero where a face has no area. Faces of a shell that disagree on which side is out
        are made to agree.
    """
    shells = bone.shells
    turned = np.where(shells.nesting % 2 == 1, -1.0, 1.0) * shells.outward
    normals: Vec3s = bone.normals * turned[shells.of_face, None]
    for number in np.flatnonzero(~shells.wound):
        rows = np.flatnonzero(shells.of_face == number)
        normals[rows] *= _agreeing(bone, rows)[:, None]
    return normals


def calmed(normals: Vec3s, triangles: Floats, faces: Ints) -> Vec3s:
    """Average the normal of each face with those of like neighbours.

    Parameters
    ----------
    normals : (f, 3) float array
        Unit normals, or zero.
    triangles : (f, 3, 3) float array, mm
        Corners of the faces.
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    (f, 3) float array
        Neighbours count by area, and the less the more they turn; past 53 degrees they do
        not count at all.
    """
    area = areas(triangles)
    one, other = neighbours(faces)
    for _ in range(ROUNDS):
        like = np.clip(np.einsum("ij,ij->i", normals[one], normals[other]) - SHARP, 0.0, None)
        pull = coo_array((like * area[other], (one, other)), shape=(len(area), len(area))).tocsr()
        normals = units((1.0 - SHARP) * area[:, None] * normals + pull @ normals)
    return normals


def areas(triangles: Floats) -> Floats:
    """Areas of triangles.

    Parameters
    ----------
    triangles : (f, 3, 3) float array, mm
        Corners.

    Returns
    -------
    (f,) float array, mm²
    """
    a, b, c = triangles.transpose(1, 0, 2)
    area: Floats = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return area


def units(vectors: Vec3s) -> Vec3s:
    """Vectors brought to length 1; zero stays zero.

    Parameters
    ----------
    vectors : (n, 3) float array
        Vectors.

    Returns
    -------
    (n, 3) float array
    """
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    unit: Vec3s = vectors / np.where(length > 0.0, length, 1.0)
    return unit


def neighbours(faces: Ints) -> tuple[Ints, Ints]:
    """Pairs of faces that share an edge of theirs alone, each pair both ways round.

    Parameters
    ----------
    faces : (f, 3) int array
        Rows of vertices.

    Returns
    -------
    one, other : (k,) int arrays
    """
    edges = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2), axis=2).reshape(-1, 2)
    key = edges[:, 0] * (int(faces.max(initial=0)) + 1) + edges[:, 1]
    order = np.argsort(key, kind="stable")
    start = np.flatnonzero(np.diff(key[order], prepend=-1) != 0)
    pair = start[np.diff(np.append(start, len(key))) == 2]
    first, second = order[pair] // 3, order[pair + 1] // 3
    return np.concatenate([first, second]), np.concatenate([second, first])


def _agreeing(bone: Bone, rows: Ints) -> Floats:
    """Signs that make the normals of a twisted shell agree, out of its volume."""
    faces = bone.surface.faces[rows]
    turned = oriented(faces)
    a, b, c = bone.surface.vertices[turned].transpose(1, 0, 2)
    normals = np.cross(b - a, c - a)
    middle = bone.surface.vertices[np.unique(faces)].mean(axis=0)
    volume = np.einsum("ij,ij->i", (a + b + c) / 3.0 - middle, normals).sum()
    kept = np.einsum("ij,ij->i", normals, bone.normals[rows])
    outward = float(bone.shells.outward[bone.shells.of_face[rows[0]]])
    signs: Floats = np.where(kept < 0.0, -1.0, 1.0) * np.copysign(outward, volume)
    return signs
