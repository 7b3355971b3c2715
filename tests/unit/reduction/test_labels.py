"""Samples of a fragment, and which of them are broken surface.

The demonstration's oblique break lies on a known plane (`OBLIQUE` of scripts/mesh_breaks.py: the
plane of the shaft's case, roughened by some tenths of a millimetre).
"""

import numpy as np
import pytest
from displaced import OBLIQUE, lying

from trajplan.reduction._labels import label
from trajplan.reduction._samples import own_frame, sample

POINT, NORMAL = np.array([0.0, 0.0, 110.0]), np.array([0.866, 0.0, 0.5])
TOWARD = {"oblique_lower": (0.0, 0.0, 1.0), "oblique_upper": (0.0, 0.0, -1.0)}


def area_of(vertices, faces):
    a, b, c = vertices[faces].transpose(1, 0, 2)
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()


@pytest.mark.parametrize("name", OBLIQUE)
def test_broken_surface_is_found_on_a_shaft(name):
    labelled = label(sample(*lying(name), 1.0), np.array(TOWARD[name]))
    off = np.abs((labelled.points - POINT) @ NORMAL)
    broken = labelled.areas[labelled.broken]
    on_plane = off[labelled.broken] < 2.5
    assert broken[on_plane].sum() > 0.9 * broken.sum()
    # of what lies on the plane, the wall and the canal beside it are not broken
    assert broken[on_plane].sum() > 0.6 * labelled.areas[off < 1.0].sum()
    assert (off[labelled.wall] < 1.0).mean() < 0.1  # the wall reaches up to the plane
    assert labelled.shaft is not None
    assert labelled.shaft.radius == pytest.approx(12.8, abs=0.5)
    assert labelled.shaft.axis @ np.array(TOWARD[name]) > np.cos(np.radians(6.0))


def test_a_piece_without_a_shaft_stays_open():
    labelled = label(sample(*lying("wedge_piece"), 1.0), None)
    assert labelled.shaft is None
    assert labelled.broken.all()
    assert labelled.wall.all()


@pytest.mark.parametrize("spacing", [0.6, 1.0])
def test_samples_stand_for_the_whole_area(spacing):
    vertices, faces = lying("oblique_lower")
    samples = sample(vertices, faces, spacing)
    assert samples.areas.sum() == pytest.approx(area_of(vertices, faces), rel=0.01)


def test_large_triangles_are_sampled_all_over():
    corners = np.array([[0.0, 0.0, 0.0], [40.0, 0.0, 0.0], [0.0, 40.0, 0.0], [0.0, 0.0, 1.0]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    samples = sample(corners, faces, 1.0)
    spots = np.array([[5.0, 5.0, 0.0], [30.0, 5.0, 0.0], [5.0, 30.0, 0.0], [18.0, 18.0, 0.0]])
    away = np.linalg.norm(samples.points[:, None] - spots, axis=2).min(axis=0)
    assert away.max() < 1.5


def test_the_own_frame_moves_with_the_fragment():
    vertices, faces = lying("oblique_lower")
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    first, moments = own_frame(vertices, faces)
    second, same = own_frame(vertices @ turn.T + [5.0, 6.0, 7.0], faces)
    assert np.allclose(second[:3, :3], turn @ first[:3, :3], atol=1e-9)
    assert np.allclose(moments, same)
