"""Turned parts and threads against closed forms."""

import numpy as np
import pytest
import trimesh

from trajplan.show._items.solids import AROUND, join, onto_axis, ridge, turned


def as_trimesh(solid):
    return trimesh.Trimesh(*solid, process=True)


def test_a_turned_cylinder_has_the_volume_of_its_prism():
    mesh = as_trimesh(turned(np.array([[1.0, 0.0], [1.0, 2.0], [6.0, 2.0], [6.0, 0.0]])))
    # A prism on a regular n-gon of circumradius r: n/2 r² sin(2 pi / n) h (elementary geometry).
    assert mesh.is_watertight
    prism = AROUND / 2 * 4.0 * np.sin(2 * np.pi / AROUND) * 5.0
    assert mesh.volume == pytest.approx(prism)  # and positive: normals point out


def test_thread_lies_between_its_ends_and_its_radii():
    vertices, _ = ridge(3.0, 21.0, 1.5, 2.25, 1.75)
    radius = np.hypot(vertices[:, 0], vertices[:, 1])
    assert vertices[:, 2].min() == pytest.approx(3.0)
    assert vertices[:, 2].max() == pytest.approx(21.0)
    assert radius.min() == pytest.approx(1.5)
    assert radius.max() == pytest.approx(2.25)


def test_thread_is_right_handed_and_rises_one_pitch_a_turn():
    vertices, faces = ridge(0.0, 30.0, 1.5, 2.25, 1.75)
    foot = vertices[: len(vertices) // 4]  # the edge of the ridge nearest the head
    angle = np.unwrap(np.arctan2(foot[:, 1], foot[:, 0]))
    # Right-handed (ISO 5408): turned clockwise as seen from the head, it moves to the tip.
    # Seen from the tip, along which z runs, that is anticlockwise: angle and z grow together.
    slope = np.polyfit(angle, foot[:, 2], 1)[0]
    assert slope == pytest.approx(1.75 / (2 * np.pi))
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    outward = (normal[:, :2] * corners.mean(axis=1)[:, :2]).sum(axis=1)
    assert (outward > 0).mean() > 0.95


def test_a_thread_shorter_than_its_ridge_still_draws():
    vertices, faces = ridge(0.0, 0.4, 1.5, 2.25, 1.75)
    assert np.ptp(vertices[:, 2]) == pytest.approx(0.4, abs=0.01)
    assert len(faces) > 0


@pytest.mark.parametrize("direction", [[0, 0, 1.0], [0, 0, -1.0], [0.6, 0, 0.8], [-1.0, 0, 0]])
def test_onto_axis_is_a_rigid_motion_without_mirror(direction):
    solid = turned(np.array([[0.0, 0.0], [0.0, 2.0], [5.0, 1.0], [5.0, 0.0]]))
    origin, axis = np.array([3.0, -4.0, 5.0]), np.array(direction)
    moved = onto_axis(solid, origin, axis)
    assert as_trimesh(moved).volume == pytest.approx(as_trimesh(solid).volume)
    assert (moved[0] - origin) @ axis == pytest.approx(solid[0][:, 2])


def test_join_keeps_every_triangle():
    first = turned(np.array([[0.0, 0.0], [0.0, 1.0], [1.0, 0.0]]))
    second = onto_axis(first, np.array([0.0, 0, 9]), np.array([0.0, 0, 1]))
    vertices, faces = join(first, second)
    triangles = np.vstack([first[0][first[1]], second[0][second[1]]])
    assert np.array_equal(vertices[faces], triangles)
