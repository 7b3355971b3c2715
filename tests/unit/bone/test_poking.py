"""A canal that comes through the cortex: not known there, right everywhere else."""

import numpy as np
import pytest
from builders import bone_of
from scipy.spatial.transform import Rotation
from specimens import cylinder, flipped, joined, lathe, tube

from trajplan.bone import line_spans


def poked(by=0.1, *, ends=0.0):
    """A shaft 28 wide along z; at z = 50 its canal, 18 wide, bulges out on one side."""
    vertices, faces = lathe(np.full(19, 9.0), np.linspace(5.0 - ends, 95.0 + ends, 19))
    bulge = (np.abs(vertices[:, 2] - 50.0) < 3.0) & (vertices[:, 0] > 8.8)
    vertices[bulge, 0] = 14.0 + by
    return joined(cylinder(14, 100), flipped((vertices, faces)))


def across(bone, z):
    """Spans of a line along x at a height."""
    spans = line_spans(bone, np.array([[-60.0, 0.0, z]]), np.array([[1.0, 0, 0]])).solid
    return spans, np.column_stack([spans.start, spans.end]) - 60.0


@pytest.mark.parametrize("by", [0.001, 0.1, 1.0])
def test_not_known_where_it_comes_through(by):
    """Read as a bone of its own, it filled the canal: bone from side to side."""
    bone = bone_of(poked(by))
    spans, _ = across(bone, 50.0)
    assert not spans.known.any()
    spans, ends = across(bone, 20.0)
    assert spans.known.all()
    assert ends == pytest.approx(np.array([[-14.0, -9.0], [9.0, 14.0]]), abs=1e-9)
    assert bone.audit.canal
    assert any("comes through the wall" in said for said in bone.audit.cautions)
    assert bone.audit.bodies == 1


def test_a_canal_that_stands_out_of_the_cut_ends():
    """5.1 mm longer at either end than its place: out by 0.1 mm at both."""
    bone = bone_of(poked(-5.0, ends=5.1))
    spans, ends = across(bone, 50.0)
    assert spans.known.all()
    assert ends == pytest.approx(np.array([[-14.0, -9.0], [9.0, 14.0]]), abs=1e-9)
    along = line_spans(bone, np.array([[0.0, 0, -9]]), np.array([[0.0, 0, 1]])).solid
    assert not along.known.any()


def test_within_the_cortex_nothing_is_said():
    for mesh in (poked(-0.1), tube()):
        bone = bone_of(mesh)
        assert not bone.shells.pokes().any()
        assert across(bone, 50.0)[0].known.all()
        assert bone.audit.cautions == ()


def lying(mesh, degrees):
    """Turned about the middle of the shaft."""
    turn = Rotation.from_euler("y", degrees, degrees=True)
    middle = np.array([0.0, 0.0, 50.0])
    return turn.apply(mesh[0] - middle) + middle, mesh[1]


@pytest.mark.parametrize(
    ("bone", "other"),
    [
        (cylinder(14, 100), lying(cylinder(9, 90, start=5), 14)),  # a canal out of both ends
        (tube(), lying(cylinder(2.25, 40, start=30), 90)),  # an old screw through both walls
        (cylinder(14, 100), (cylinder(9, 90)[0] + [12, 0, 5], cylinder(9, 90)[1])),
    ],
    ids=["askew", "screw", "beside"],
)
@pytest.mark.parametrize("turned", [False, True])
def test_what_lies_in_the_bone_and_is_no_fragment_leaves_it_open(bone, other, turned):
    """Read as a fragment of its own, bone ran on to where it ends."""
    bone = bone_of(joined(bone, flipped(other) if turned else other))
    spans, _ = across(bone, 50.0)
    assert not spans.known.any()
    outer = line_spans(bone, np.array([[-60.0, 0.0, 50.0]]), np.array([[1.0, 0, 0]])).outer
    assert not outer.known.any()


def test_fragments_pressed_into_one_another_by_a_little_are_known():
    bone = bone_of(joined(cylinder(14, 60), cylinder(14, 60, start=58)))
    along = line_spans(bone, np.array([[3.0, 0, -9]]), np.array([[0.0, 0, 1]])).solid
    assert along.known.all()
    assert np.column_stack([along.start, along.end]) == pytest.approx(
        np.array([[9.0, 69.0], [67.0, 127.0]])
    )


def test_fragments_pressed_into_one_another_stay_two_bodies():
    bone = bone_of(joined(cylinder(14, 60), cylinder(14, 60, start=50)))
    assert bone.audit.bodies == 2
    assert not bone.shells.pokes().any()
