"""The surface that a plate is laid on, and the gap between the two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.bone import SurfaceDistance
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints, Vec3, Vec3s
    from trajplan.bone import Bone

__all__ = ["Bed", "bed_of", "gap_along", "signed_gap"]

#: mm; a point so near has no direction to the surface but the normal of its face.
TOUCHING = 1e-6
#: mm off the middle of a face at which it is asked which side is out: above the rounding of
#: the winding number far from the origin, below any wall.
BESIDE = 0.01
#: Fall of the winding number from which it tells: half of the whole step.
TELLING = 0.5
#: mm; a way in so little behind a point that touches is the one that it touches.
SLACK = 1e-3
#: mm; bone further below the plate than this is not what the plate lies on: there it stands
#: beside the bone, or over its end (assumption; more than any gap that a plate may keep).
REACH = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class Bed:
    """The outer surface of a bone, ready for a plate."""

    bone: Bone
    distance: SurfaceDistance  # of the outer surface, without canals
    normals: Vec3s  # (f, 3) unit, out of the bone, of the faces of `distance`
    rows: Ints  # (f,) those faces among all of the bone's


def bed_of(bone: Bone, near: Vec3 | None = None, reach: float = np.inf) -> Bed:
    """Make a bone's outer surface ready for plates.

    Parameters
    ----------
    bone : Bone
        The bone; open surfaces are taken as they are.
    near : (3,) float array, mm, optional
        Where plates will lie; by default anywhere.
    reach : float, mm
        Faces further from `near` than this are left out.

    Returns
    -------
    Bed

    Raises
    ------
    MeshError
        If the bone has no face there.
    """
    shells = bone.shells
    keep = (shells.nesting % 2 == 0)[shells.of_face] & (bone.normals != 0.0).any(axis=1)
    faces = bone.surface.faces
    if near is not None:
        apart = np.linalg.norm(bone.surface.vertices - near, axis=1)
        keep &= (apart[faces] <= reach).any(axis=1)
    if not keep.any():
        raise MeshError(
            "there is no bone surface where the plate is to lie",
            remedy="name a place on the bone, in its frame and unit",
            file=bone.surface.name,
        )
    used, local = np.unique(faces[keep], return_inverse=True)
    distance = SurfaceDistance.over(bone.surface.vertices[used], local.reshape(-1, 3))
    rows = np.flatnonzero(keep)
    return Bed(bone, distance, _outward(bone, rows), rows)


def _outward(bone: Bone, faces: Ints) -> Vec3s:
    """Normals of faces, turned out of the bone.

    A shell that is closed and wound alike says which side is out. Of any other the winding
    number does, face by face: it falls by one from the inside to the outside.
    """
    shells, normals = bone.shells, bone.normals[faces]
    shell = shells.of_face[faces]
    side = shells.outward[shell].astype(np.float64)
    sound = shells.closed & shells.wound
    for number in np.unique(shell[~sound[shell]]):
        rows = np.flatnonzero(shell == number)
        middle = bone.surface.vertices[bone.surface.faces[faces[rows]]].mean(axis=1)
        step = BESIDE * normals[rows]
        fall = bone.winding.number(int(number), middle - step) - bone.winding.number(
            int(number), middle + step
        )
        told = np.abs(fall) > TELLING
        side[rows] = np.where(told, np.sign(fall), side[rows])
    turned: Vec3s = normals * side[:, None]
    return turned


def signed_gap(bed: Bed, points: Floats) -> tuple[Floats, Floats]:
    """Distance of points to the surface, negative inside the bone, and its gradient.

    Parameters
    ----------
    bed : Bed
        The surface.
    points : (..., 3) float array, mm
        Points.

    Returns
    -------
    gap : (...) float array, mm
    gradient : (..., 3) float array
        Unit, away from the bone.
    """
    flat = points.reshape(-1, 3)
    square, face, nearest = bed.distance.tree.nearest(flat)
    normal = bed.normals[face]
    away = flat - nearest
    length = np.sqrt(square)
    side = np.where(np.einsum("ij,ij->i", away, normal) < 0.0, -1.0, 1.0)
    near = length < TOUCHING
    unit = np.where(near[:, None], normal, (side / np.where(near, 1.0, length))[:, None] * away)
    return (side * length).reshape(points.shape[:-1]), unit.reshape(points.shape)


def gap_along(bed: Bed, points: Floats, down: Floats) -> Floats:
    """How far the bone lies below points of a plate's underside.

    Parameters
    ----------
    bed : Bed
        The surface; the lines are cast through the whole bone, against its real triangles.
    points : (..., 3) float array, mm
        Points of the underside.
    down : (..., 3) float array
        Unit, from the plate to the bone.

    Returns
    -------
    (...) float array, mm
        Negative: so deep the plate cuts into bone. NaN: no bone within 15 mm below.

    Notes
    -----
    From a point outside the bone the line's next way in counts, from one inside the last
    before it. Holes of an open surface are not closed in thought, as they are for screws: a
    plate lies on what is there.
    """
    origin, direction = points.reshape(-1, 3), down.reshape(-1, 3)
    inside = signed_gap(bed, origin)[0] < -TOUCHING
    hits = bed.bone.caster.crossings(origin, direction)
    out = np.zeros((len(bed.bone.normals), 3))
    out[bed.rows] = bed.normals
    line = rows_of(hits.offsets)
    enters = np.einsum("ij,ij->i", out[hits.face], direction[line]) < 0.0
    behind = enters & inside[line] & (hits.depth <= 0.0)
    ahead = enters & ~inside[line] & (hits.depth >= -SLACK) & (hits.depth <= REACH)
    gap = np.where(inside, -np.inf, np.inf)
    np.maximum.at(gap, line[behind], hits.depth[behind])
    np.minimum.at(gap, line[ahead], hits.depth[ahead])
    gap[~np.isfinite(gap)] = np.nan
    return gap.reshape(points.shape[:-1])
