"""Volumes of invented bones with known walls, written by the scripts of the demonstration."""

from __future__ import annotations

import numpy as np
from volume_files import turned, write_volume

from scripts.ct_phantom import Broken, Shaft, ct_of, labels_of

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
