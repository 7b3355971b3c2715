"""Folded fracture surfaces: strips of flat facets, one beside the other."""

from __future__ import annotations

import numpy as np
from specimens import box

from trajplan.bone import as_surface, make_bone
from trajplan.fracture import fracture_from_surface

LENGTH = 20.0  # mm, along y


def strip(angles, width=10.0, cells=2):
    """A surface of facets, each turned so many degrees about y, its ridges along y."""
    slope = np.radians(angles)
    x = np.concatenate([[0.0], np.cumsum(width * np.cos(slope))])
    z = np.concatenate([[0.0], np.cumsum(width * np.sin(slope))])
    x, z = x - x.mean(), z - z.mean() + 50.0
    y = np.linspace(-LENGTH / 2, LENGTH / 2, cells + 1)
    points = np.array([(a, b, c) for a, c in zip(x, z, strict=True) for b in y])
    faces = []
    for i in range(len(angles)):
        for j in range(cells):
            a, b = i * (cells + 1) + j, (i + 1) * (cells + 1) + j
            faces += [(a, b, b + 1), (a, b + 1, a + 1)]
    return points, np.array(faces)


def zones_of(mesh):
    """Its zones, inside a block of bone."""
    bone = make_bone(as_surface(box((-60, -12, 0), (60, 12, 100))))
    return fracture_from_surface(bone, as_surface(mesh)).zones
