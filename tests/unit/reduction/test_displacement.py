"""How fragments lie, in the words of the clinic, against movements that are known."""

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from tests.specimens import box, pipe
from trajplan.reduction import Fragment, Pose, displacements, joint_fits

CUT = np.array([0.0, 0.0, 60.0])  # where the two halves of the tube meet


def block(low=(0.0, 0.0, 0.0), high=(10.0, 10.0, 10.0)):
    return trimesh.Trimesh(*box(low, high), process=False)


def fragment(name, mesh):
    return Fragment(name, np.asarray(mesh.vertices), np.asarray(mesh.faces))


def halves():
    """A tube along z, broken straight across at 60 mm."""
    low, high = (
        trimesh.Trimesh(*pipe(outer=12.0, inner=8.0, length=length), process=False)
        for length in (60.0, 50.0)
    )
    high.apply_translation([0.0, 0.0, 60.0])
    return low, high


def lain(mesh, rotation, shift, about=CUT):
    """A piece turned about the fracture and shifted, and the movement that puts it back."""
    matrix = np.eye(4)
    matrix[:3, :3] = rotation.as_matrix()
    matrix[:3, 3] = about - rotation.apply(about) + shift
    moved = mesh.copy()
    moved.apply_transform(matrix)
    return moved, Pose(np.linalg.inv(matrix))


def told(rotation, shift, frame=""):
    low, high = halves()
    moved, pose = lain(high, rotation, np.asarray(shift, dtype=float))
    parts = [fragment("low", low), fragment("high", moved)]
    (answer,) = displacements(parts, [Pose.still(), pose], 0, frame)
    return answer


@pytest.mark.parametrize("degrees", [-30.0, 5.0, 40.0])
def test_a_turn_about_the_shaft_is_a_turn_and_nothing_else(degrees):
    answer = told(Rotation.from_euler("z", degrees, degrees=True), [0, 0, 0])
    assert answer.turn == pytest.approx(degrees, abs=1e-6)
    assert answer.angulation == pytest.approx(0.0, abs=1e-6)
    assert answer.across == pytest.approx(0.0, abs=1e-2)


def test_shift_across_and_shortening_are_parted():
    answer = told(Rotation.identity(), [3.0, -4.0, -7.0])
    assert answer.across == pytest.approx(5.0, abs=1e-6)
    assert answer.shortening == pytest.approx(7.0, abs=1e-6)
    assert np.allclose(answer.toward, [0.6, -0.8, 0.0], atol=1e-6)
    assert told(Rotation.identity(), [0, 0, 2.5]).shortening == pytest.approx(-2.5, abs=1e-6)


def test_the_far_fragment_sees_the_near_one_moved_the_other_way():
    low, high = halves()
    moved, pose = lain(high, Rotation.from_euler("z", 12, degrees=True), np.array([0, 0, -4.0]))
    parts = [fragment("low", low), fragment("high", moved)]
    (answer,) = displacements(parts, [pose.back(), Pose.still()], 1)
    # short is short from either side, and so is the turn seen along the axis away from each
    assert answer.shortening == pytest.approx(4.0, abs=1e-6)
    assert answer.turn == pytest.approx(12.0, abs=1e-6)


def test_swing_and_twist_put_together_are_scipys_rotation():
    rotation = Rotation.from_rotvec(np.radians([14.0, -9.0, 21.0]))
    answer = told(rotation, [0, 0, 0])
    axis = np.array([0.0, 0.0, 1.0])
    leaning = rotation.apply(axis)
    swing = Rotation.from_rotvec(
        np.cross(axis, leaning)
        / np.linalg.norm(np.cross(axis, leaning))
        * np.radians(answer.angulation)
    )
    twist = Rotation.from_rotvec(axis * np.radians(answer.turn))
    assert ((swing * twist) * rotation.inv()).magnitude() == pytest.approx(0.0, abs=1e-6)


def test_two_views_show_the_parts_of_an_angulation():
    # LPS: x to the left, y to the back. About y the far end (up, to the head) leans along +x.
    answer = told(Rotation.from_euler("y", 10, degrees=True), [0, 0, 0], "LPS")
    assert (answer.front, answer.front_to) == (pytest.approx(10.0, abs=1e-6), "left")
    assert answer.side == pytest.approx(0.0, abs=1e-6)
    answer = told(Rotation.from_euler("x", 8, degrees=True), [0, 0, 0], "LPS")
    assert (answer.side, answer.side_to) == (pytest.approx(8.0, abs=1e-6), "front")
    # in RAS the same numbers lean to the other sides
    answer = told(Rotation.from_euler("y", 10, degrees=True), [0, 0, 0], "RAS")
    assert answer.front_to == "right"


@pytest.mark.parametrize("frame", ["", "bench", "LRS", "LP"])
def test_a_frame_that_names_no_sides_gives_no_views(frame):
    answer = told(Rotation.from_euler("y", 10, degrees=True), [0, 0, 0], frame)
    assert np.isnan([answer.front, answer.side]).all()
    assert answer.front_to == answer.side_to == ""
    assert answer.angulation == pytest.approx(10.0, abs=1e-6)


def test_moving_everything_changes_no_number():
    rotation, shift = Rotation.from_rotvec([0.1, 0.2, -0.3]), np.array([2.0, 1.0, -3.0])
    low, high = halves()
    moved, pose = lain(high, rotation, shift)
    away = np.eye(4)
    away[:3, :3] = Rotation.from_rotvec([1.0, -0.4, 0.7]).as_matrix()
    away[:3, 3] = [40.0, -70.0, 10.0]
    base = displacements([fragment("low", low), fragment("high", moved)], [Pose.still(), pose], 0)[
        0
    ]
    low.apply_transform(away)
    moved.apply_transform(away)
    carried = Pose(away @ pose.matrix @ np.linalg.inv(away))
    (answer,) = displacements(
        [fragment("low", low), fragment("high", moved)], [Pose.still(), carried], 0
    )
    for name in ("across", "shortening", "angulation", "turn"):
        assert getattr(answer, name) == pytest.approx(getattr(base, name), abs=1e-3)


def test_blocks_have_no_shaft_and_nothing_is_told_about_one():
    parts = [fragment("a", block()), fragment("b", block((11, 0, 0), (20, 10, 10)))]
    (answer,) = displacements(parts, [Pose.still(), Pose.still()], 0)
    assert np.isnan([answer.across, answer.shortening, answer.angulation, answer.turn]).all()


def test_gap_and_step_of_a_joint_surface():
    """Two blocks, their tops the joint: the right one sinks by 1.5 mm and gapes by 2 mm."""
    left, right = block((0, 0, 0), (10, 10, 10)), block((10, 0, 0), (20, 10, 10))
    right.apply_translation([2.0, 0.0, -1.5])
    back = np.eye(4)
    back[:3, 3] = [-2.0, 0.0, 1.5]
    parts, poses = [fragment("l", left), fragment("r", right)], [Pose.still(), Pose(back)]
    tops = [m.face_normals[:, 2] > 0.9 for m in (left, right)]
    (before,) = joint_fits("top", parts, poses, tops, lying=[Pose.still()] * 2)
    assert before.fragments == (0, 1)
    assert before.step_mean == pytest.approx(1.5)
    assert before.step_largest == pytest.approx(1.5)
    assert before.gap_mean == pytest.approx(2.0)
    (after,) = joint_fits("top", parts, poses, tops)
    assert after.step_largest == pytest.approx(0.0, abs=1e-9)
    assert after.gap_largest == pytest.approx(0.0, abs=1e-9)


def test_a_joint_on_one_fragment_alone_has_no_step():
    parts = [fragment("l", block()), fragment("r", block((10, 0, 0), (20, 10, 10)))]
    none = np.zeros(12, dtype=bool)
    top = block().face_normals[:, 2] > 0.9
    assert joint_fits("top", parts, [Pose.still()] * 2, [top, none]) == ()
