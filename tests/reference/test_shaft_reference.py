"""The long axis of real bones against general libraries.

Sources: trimesh for principal axes of inertia of the volume and for cross-sections; shapely
for the convex outline of a section; scikit-spatial for the least-squares line.
The bones are open bone surfaces of the package myo-sim.
"""

import numpy as np
import pytest
import shapely
import trimesh
from skspatial.objects import Line, Points
from specimens import real_bone

from trajplan.bone import read_surface, shaft_axis

LONG = ["r_femur.stl", "r_tibia.stl", "humerus.stl", "radius.stl", "ulna.stl", "r_fibula.stl"]


def loaded(name):
    surface = read_surface(real_bone(name), "m")
    return surface, trimesh.Trimesh(surface.vertices, surface.faces, process=False)


def degrees(one, other):
    cosine = abs(float(np.dot(one, other))) / np.linalg.norm(one) / np.linalg.norm(other)
    return np.degrees(np.arccos(min(cosine, 1.0)))


def sections(mesh, axis):
    """Cross-sections over the middle 60 % of the length: middle of each, and its outline."""
    for height in np.arange(-18, 19) / 61 * axis.length:
        cut = mesh.section(axis.direction, axis.point + height * axis.direction)
        segments = cut.vertices[np.concatenate([e.nodes for e in cut.entities])]
        length = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
        yield np.average(segments.mean(axis=1), axis=0, weights=length), segments.reshape(-1, 3)


@pytest.mark.parametrize("name", ["r_femur.stl", "r_fibula.stl"])
def test_principal_axis(name):
    """The ends of a bone pull its principal axis off the shaft: 5 degrees are allowed.

    Only the bones whose surface is closed: of the others the volume means nothing.
    """
    surface, mesh = loaded(name)
    assert mesh.is_volume
    moments = mesh.principal_inertia_components
    principal = mesh.principal_inertia_vectors[int(np.argmin(moments))]
    assert degrees(shaft_axis(surface).direction, principal) < 5.0


@pytest.mark.parametrize("name", LONG)
def test_line_through_sections_of_another_library(name):
    """Least squares and least distances differ where a shaft is bowed: 1 degree is allowed."""
    surface, mesh = loaded(name)
    axis = shaft_axis(surface)
    middles = np.array([middle for middle, _ in sections(mesh, axis)])
    line = Line.best_fit(Points(middles))
    assert degrees(axis.direction, np.asarray(line.direction)) < 1.0
    off = np.linalg.norm(np.cross(middles - axis.point, axis.direction), axis=1)
    assert axis.straightness == pytest.approx(np.sqrt(np.mean(off**2)), rel=0.1)


@pytest.mark.parametrize("name", LONG)
def test_diameter_is_the_perimeter_of_the_outline_over_pi(name):
    """Cauchy: the mean width of a convex outline is its perimeter over pi."""
    surface, mesh = loaded(name)
    axis = shaft_axis(surface)
    u, v = np.linalg.svd(axis.direction[None])[2][1:]
    round_ = [
        shapely.MultiPoint(np.column_stack([p @ u, p @ v])).convex_hull.length / np.pi
        for _, p in sections(mesh, axis)
    ]
    assert axis.diameter == pytest.approx(np.median(round_), rel=0.02)


def test_a_flat_bone_has_no_shaft():
    surface, _ = loaded("r_pelvis.stl")
    assert not shaft_axis(surface).found
