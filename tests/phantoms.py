"""Volumes of invented bones with known walls, written by the scripts of the demonstration."""

from __future__ import annotations

import numpy as np
from volume_files import turned, write_volume

from scripts.ct_phantom import Broken, Shaft, ct_of, labels_of, places
from trajplan.volume import Ct, Source, grid_of, measure_bone

#: A shaft in two fragments, 1.6 mm apart across an oblique fracture.
BROKEN = Shaft(half=24.0, outer=10.0, wall=3.0, muscle=14.0, fat=16.5,
               broken=Broken((0.0, 0.0, 0.0), (0.55, 0.2, 0.81), 1.6))  # fmt: skip
SIZE, EDGES = (46, 44, 74), (0.8, 0.8, 0.75)


def middled(size=SIZE, edges=EDGES, directions=None, centre=(0.0, 0.0, 0.0)):
    """The matrix of a volume round a place."""
    matrix = np.eye(4)
    matrix[:3, :3] = (turned() if directions is None else directions) * edges
    matrix[:3, 3] = np.array(centre) - matrix[:3, :3] @ ((np.array(size) - 1) / 2.0)
    return matrix


def write_pair(folder, shaft=BROKEN, size=SIZE, matrix=None, **keys):
    """Write ``ct.nii.gz`` and ``labels.nii.gz``."""
    matrix = middled(size) if matrix is None else matrix
    write_volume(folder / "ct.nii.gz", ct_of(shaft, matrix, size, **keys), matrix)
    write_volume(folder / "labels.nii.gz", labels_of(shaft, matrix, size), matrix)


def ct_from(values, matrix, kilovolts=120.0):
    """A CT in memory."""
    source = Source("made", "0" * 64, "NRRD", kilovolts=kilovolts)
    return Ct(values, grid_of(values.shape[::-1], matrix), source)


def volume_of(function, size, matrix):
    """(k, j, i) HU, a function of (..., 3) places."""
    return function(places(matrix, size)).astype(np.float32)


def field_from(ct, surface, line=(0.8, -10.0), places=None, inward=None):
    """What the CT says, calibrated by a line; walls where places are given."""
    nothing = np.zeros((0, 3))
    return measure_bone(
        ct,
        np.asarray(surface, dtype=np.float64),
        nothing if places is None else places,
        nothing if inward is None else inward,
        line,
    )


def feet(shaft, count=700, reach=12.0):
    """Places on the wall of a shaft, its inward normals, and how thick it is there."""
    rng = np.random.default_rng(1)
    axis = np.array(shaft.axis) / np.linalg.norm(shaft.axis)
    side = np.cross(axis, [0.3, 1.0, 0.2])
    side /= np.linalg.norm(side)
    turn, height = rng.uniform(0, 2 * np.pi, count), rng.uniform(-reach, reach, count)
    out = np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * np.cross(axis, side)
    wall = shaft.wall + shaft.thinner * np.cos(turn)
    return out * shaft.outer + height[:, None] * axis, -out, wall
