"""Meshes of labels against the closed forms of the bodies that were made voxels."""

import numpy as np
import pytest
from volume_files import matrix_of, places, turned

from trajplan.bone import as_surface, make_bone
from trajplan.errors import VolumeError
from trajplan.volume import Source, as_labels, grid_of, label_mesh

AXIS = np.array([0.34, 0.53, 0.78]) / np.linalg.norm([0.34, 0.53, 0.78])
CENTRE = np.array([-40.0, 31.0, 212.0])
SOURCE = Source("made", "", "NRRD")


def voxelised(inside, size, spacing, directions=None, lean=0.0):
    """A map whose label 3 is what `inside` says of places; its middle is the centre."""
    matrix = matrix_of(turned() if directions is None else directions, spacing)
    matrix[1, 2] += lean * spacing[2]
    matrix[:3, 3] = CENTRE - matrix[:3, :3] @ (np.array(size) / 2)
    values = np.where(inside(places(matrix, size) - CENTRE), 3, 0)
    return as_labels(values, grid_of(size, matrix), SOURCE)


def sphere(points, radius=12.0):
    return np.linalg.norm(points, axis=-1) < radius


def rod(points, outer=10.0, inner=3.0, half=12.0):
    """A closed canal in an oblique rod."""
    along = points @ AXIS
    across = np.linalg.norm(points - along[..., None] * AXIS, axis=-1)
    hollow = (across < inner) & (np.abs(along) < half - 4.0)
    return (across < outer) & (np.abs(along) < half) & ~hollow


def middles(mesh):
    """Middle of each face, from the centre, and its area."""
    corners = mesh.vertices[mesh.faces]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]),
                          axis=1)  # fmt: skip
    return corners.mean(axis=1) - CENTRE, area


@pytest.mark.parametrize(
    ("spacing", "size"), [((0.5, 0.5, 0.5), (56, 54, 58)), ((0.5, 0.55, 1.0), (54, 52, 30))]
)
def test_a_sphere(spacing, size):
    """Measured when the way was chosen: mean 0.06 of a voxel, bias below 0.02, at 0.5 mm."""
    mesh = label_mesh(voxelised(sphere, size, spacing), 3)
    at, area = middles(mesh)
    off = np.linalg.norm(at, axis=1) - 12.0
    voxel = np.prod(spacing) ** (1 / 3)
    assert np.average(np.abs(off), weights=area) < 0.1 * voxel
    # bias by content: middles of faces alone see only how far a flat face cuts a round body short
    bias = (mesh.volume - 4 / 3 * np.pi * 12**3) / area.sum()
    assert abs(bias) < 0.04 * voxel
    assert mesh.volume == pytest.approx(4 / 3 * np.pi * 12**3, rel=0.01)


@pytest.mark.parametrize("hand", [1, -1])
def test_a_rod_with_a_canal_in_every_direction(hand):
    directions = turned(70) * [1, 1, hand]
    mesh = label_mesh(voxelised(rod, (60, 62, 58), (0.6, 0.6, 0.6), directions), 3)
    audit = make_bone(as_surface((mesh.vertices, mesh.faces))).audit
    assert audit.closed
    assert audit.wound
    assert (audit.inverted, audit.bodies, audit.hollows) == (0, 1, 1)
    assert audit.volume == pytest.approx(mesh.volume, rel=1e-9)
    at, area = middles(mesh)
    along = at @ AXIS
    across = np.linalg.norm(at - along[:, None] * AXIS, axis=1)
    for radius, reach in ((10.0, 9.0), (3.0, 6.0)):
        wall = (np.abs(along) < reach) & (np.abs(across - radius) < 1.5)
        off = across[wall] - radius
        assert np.average(np.abs(off), weights=area[wall]) < 0.1 * 0.6
        assert abs(np.average(off, weights=area[wall])) < 0.05 * 0.6
    assert np.linalg.norm(np.average(at, axis=0, weights=area)) < 0.1


def test_slices_that_lean():
    mesh = label_mesh(voxelised(sphere, (56, 66, 58), (0.5, 0.5, 0.5), lean=0.36), 3)
    at, area = middles(mesh)
    assert np.linalg.norm(np.average(at, axis=0, weights=area)) < 0.1
    assert abs(np.average(np.linalg.norm(at, axis=1) - 12.0, weights=area)) < 0.05


def test_cut_off_by_the_border_it_is_closed_there():
    mesh = label_mesh(voxelised(sphere, (56, 54, 24), (0.5, 0.5, 0.5)), 3)
    assert make_bone(as_surface((mesh.vertices, mesh.faces))).audit.closed
    assert mesh.volume == pytest.approx(mesh.voxels, rel=0.03)


def test_what_is_not_there_and_what_is_too_thin():
    labels = voxelised(sphere, (56, 54, 58), (0.5, 0.5, 0.5))
    with pytest.raises(VolumeError, match="no label 4; name one of 3"):
        label_mesh(labels, 4)
    thin = voxelised(
        lambda at: np.abs(np.linalg.norm(at, axis=-1) - 11.0) < 0.3, (40, 42, 38), (0.7, 0.7, 0.7)
    )
    with pytest.raises(VolumeError, match="too thin for these voxels"):
        label_mesh(thin, 3)
