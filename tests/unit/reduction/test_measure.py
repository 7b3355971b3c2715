"""Gap, step, overlap and contact in poses whose answer is known.

Overlap is held against the boolean intersection of manifold3d, which shares no code with it.
"""

import manifold3d
import numpy as np
import pytest
from displaced import OBLIQUE, WEDGE, displaced, in_place, lying, movement, oblique
from specimens import halves

from trajplan.reduction import Fragment, Kept, Matcher, Pose, measure, rim_steps, snap
from trajplan.reduction._fine import turned_by


@pytest.fixture(scope="module")
def matcher():
    """The oblique shaft, where it belongs."""
    return Matcher.of([Fragment(name, *lying(name)) for name in OBLIQUE])


def shifted(way):
    matrix = np.eye(4)
    matrix[:3, 3] = way
    return (Pose.still(), Pose(matrix))


def test_gap_is_how_far_the_broken_surfaces_are_apart(matcher):
    # the demonstration's plane: normal (0.866, 0, 0.5)
    apart = np.array([0.866, 0.0, 0.5])
    (start,) = measure(matcher, in_place(2))
    (fit,) = measure(matcher, shifted(2.0 * apart))
    assert fit.gap_mean - start.gap_mean == pytest.approx(2.0, abs=0.2)
    assert fit.gap_mean <= fit.gap_90 <= fit.gap_largest
    assert f"{fit.overlap:.0f}" == "0"
    assert fit.contact < 0.1 < start.contact


def test_step_is_how_far_the_outer_wall_jumps(matcher):
    (fit,) = measure(matcher, shifted([0.0, 3.0, 0.0]))
    (less,) = measure(matcher, shifted([0.0, 1.0, 0.0]))
    # of a shift across by s the step is s |cos| round the shaft: between nothing and all of it
    assert less.step_mean < fit.step_mean < 3.0
    assert fit.step_largest == pytest.approx(3.0, abs=1.2)


@pytest.mark.parametrize("deep", [2.0, 3.0, 4.0])
def test_overlap_is_the_volume_of_the_intersection(matcher, deep):
    (fit,) = measure(matcher, shifted([0.0, 0.0, -deep]))
    lower, upper = (lying(name) for name in OBLIQUE)
    solids = [
        manifold3d.Manifold(manifold3d.Mesh(vertices.astype(np.float32), faces.astype(np.uint32)))
        for vertices, faces in (lower, (upper[0] - [0.0, 0.0, deep], upper[1]))
    ]
    assert fit.overlap == pytest.approx((solids[0] ^ solids[1]).volume(), rel=0.15)


def test_pairs_that_did_not_move_are_kept_and_change_no_number():
    """Three pieces, one moved at a time: what is kept from before is what is measured anew."""
    pieces = Matcher.of([Fragment(name, *lying(name)) for name in WEDGE])
    kept = Kept()
    for way in ([0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.4, 0.8, -0.3]):
        matrix = np.eye(4)
        matrix[:3, 3] = way
        poses = (*in_place(2), Pose(matrix))
        before = kept.seen.get((0, 1))
        after, fresh = measure(pieces, poses, kept), measure(pieces, poses)
        assert [fit.gap_mean for fit in after] == [fit.gap_mean for fit in fresh]
        assert [fit.overlap for fit in after] == [fit.overlap for fit in fresh]
        assert before is None or kept.seen[0, 1] is before  # neither of the two moved


def test_steps_are_told_where_they_are():
    """A round tube, shifted across: the step is what of the shift runs along the wall's normal."""
    vertices, faces = halves(gap=0.0)
    parts = zip("ab", np.split(faces, 2), strict=True)
    tube = Matcher.of([Fragment(name, *_own(vertices, half)) for name, half in parts])
    facets = np.median(rim_steps(tube, in_place(2))[1])  # the tube has flat sides
    assert facets < 0.3
    points, step = rim_steps(tube, shifted([0.0, 3.0, 0.0]))
    along = np.abs(points[:, 1] - 1.5) / np.linalg.norm(points[:, :2] - [0.0, 1.5], axis=1)
    assert np.median(np.abs(step - 3.0 * along)) < 2.0 * facets
    assert np.corrcoef(step, along)[0, 1] > 0.9
    assert len(rim_steps(tube, shifted([0.0, 0.0, 80.0]))[1]) == 0


def _own(vertices, faces):
    used, own = np.unique(faces, return_inverse=True)
    return vertices[used], own.reshape(faces.shape)


def test_fragments_that_lie_apart_do_not_meet(matcher):
    assert measure(matcher, shifted([80.0, 0.0, 0.0])) == ()


def test_a_piece_inside_another_is_told_though_it_faces_nothing(matcher):
    """The upper half of the shaft pushed into the lower one, and a chip in the wall of that."""
    assert measure(matcher, in_place(2))[0].inside == pytest.approx((0.0, 0.0), abs=0.02)
    (fit,) = measure(matcher, shifted([0.0, 0.0, -60.0]))
    assert min(fit.inside) > 0.1
    vertices, faces = lying("wedge_piece")
    small = 0.3 * (vertices - vertices.mean(axis=0))
    lower = lying("oblique_lower")
    points = lower[0][np.abs(lower[0][:, 2] - 60.0) < 5.0]
    wall = points[np.argmax(points[:, 0])] - [4.0, 0.0, 0.0]  # in the wall, not in the canal
    chip = Matcher.of([Fragment("lower", *lower), Fragment("chip", small + wall, faces)])
    (fit,) = measure(chip, in_place(2))
    assert fit.inside[1] > 0.8
    assert fit.inside[0] < 0.1


def test_what_is_not_measured_is_not_known(matcher):
    (fit,) = measure(matcher, in_place(2))
    assert np.isnan([fit.rival, fit.steady_turn, fit.agree_shift, fit.slides.turn]).all()
    assert not fit.turn_known
    assert not fit.length_known


def test_snap_goes_to_the_nearest_fit():
    _, _, matcher, reduction = oblique()
    about = reduction.poses[1].points(matcher.fragments[1].vertices).mean(axis=0)
    off = Pose(movement(3, 4.0, 2.0, about)).after(reduction.poses[1])
    snapped = snap(matcher, (reduction.poses[0], off), 1)
    remains = snapped[1].after(reduction.poses[1].back())
    assert turned_by(remains.matrix) < 0.5
    assert np.abs(remains.points(about) - about).max() < 0.5
    assert np.array_equal(snapped[0].matrix, reduction.poses[0].matrix)


def test_snap_leaves_a_fragment_that_nothing_is_near():
    fragments, _ = displaced(OBLIQUE)
    matcher = oblique()[2]
    far = Pose(np.block([[np.eye(3), np.full((3, 1), 200.0)], [np.zeros((1, 3)), np.ones((1, 1))]]))
    assert len(fragments) == 2
    assert snap(matcher, (Pose.still(), far), 1)[1] is far
