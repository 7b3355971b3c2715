"""The gap between fragments in colours: closed forms, on every face and on those asked alone."""

import numpy as np
import pytest
import trimesh

from tests.specimens import pipe
from trajplan.reduction import Fragment, Pose
from trajplan.show import GapProbe, gap_map


def pieces(times=2):
    """A pipe in two, cut straight across at 40 mm."""
    parts = []
    for name, start in (("low", 0.0), ("high", 40.0)):
        vertices, faces = pipe(outer=12.0, inner=8.0, length=40.0, sides=32)
        for _ in range(times):
            vertices, faces = trimesh.remesh.subdivide(vertices, faces)
        parts.append(Fragment(name, vertices + np.array([0.0, 0.0, start]), faces))
    return parts


def shifted(along):
    matrix = np.eye(4)
    matrix[2, 3] = along
    return [Pose.still(), Pose(matrix)]


def on_the_cut(part, height):
    """Faces of the broken surface: flat, at its height."""
    return np.abs(part.vertices[part.faces][:, :, 2] - height).max(axis=1) < 1e-9


@pytest.mark.parametrize("gap", [1.5, 0.4])
def test_a_gap_is_told_on_the_broken_surface_and_nowhere_else(gap):
    low, high = pieces()
    for part, told, height in zip(
        (low, high), gap_map((low, high), shifted(gap)), (40, 40), strict=True
    ):
        cut = on_the_cut(part, height)
        assert np.allclose(told[cut], gap, atol=1e-9)
        assert np.isnan(told[~cut]).all()


def test_bone_in_bone_is_below_zero():
    told = gap_map(pieces(), shifted(-0.5))[0][on_the_cut(pieces()[0], 40)]
    looks = np.isfinite(told)  # at the rim the way out sideways is shorter
    assert looks.mean() > 0.7
    assert np.allclose(told[looks], -0.5, atol=1e-9)


def test_far_apart_nothing_looks_at_anything():
    for told in gap_map(pieces(), shifted(10.0)):
        assert np.isnan(told).all()


def test_faces_that_are_not_asked_take_the_answer_of_one_that_looks_the_same_way():
    parts, poses = pieces(3), shifted(1.0)
    few = GapProbe.of(parts, asked=1500).gaps(poses)
    for part, told in zip(parts, few, strict=True):
        assert len(part.faces) > 1500
        cut = on_the_cut(part, 40)
        assert np.isfinite(told[cut]).mean() > 0.95
        assert np.isfinite(told[~cut]).mean() < 0.01
        assert np.allclose(told[np.isfinite(told)], 1.0, atol=1e-9)


def test_what_is_asked_again_after_a_move_is_what_a_new_probe_tells():
    parts = pieces(1)
    probe = GapProbe.of(parts)
    for along in (0.5, 0.5, 1.5, 10.0, 0.5):
        for kept, fresh in zip(
            probe.gaps(shifted(along)), GapProbe.of(parts).gaps(shifted(along)), strict=True
        ):
            assert np.array_equal(kept, fresh, equal_nan=True)
