"""Fragments whose movement is known come back; what cannot be known is never said to be sure."""

import numpy as np
import pytest
from displaced import OBLIQUE, displaced, left, lying, misplaced, moved, oblique
from specimens import pipe

from trajplan.errors import CaseError
from trajplan.reduction import Fragment, Hint, Settings, Template, reduce_fragments
from trajplan.reduction._template import compare

#: mm along the shaft that the demonstration's oblique fragments stand apart where they belong.
APART = 2.0


def test_two_fragments_of_a_shaft_come_back():
    _, moves, _, reduction = oblique()
    shift, turn = misplaced(left(reduction, moves, 1), lying("oblique_upper")[0])
    assert shift < APART
    assert turn < 1.0
    assert reduction.sure
    (fit,) = reduction.pairs
    assert fit.contact > 0.8
    assert fit.gap_mean < 0.2
    assert fit.turn_known
    assert not fit.length_known  # nothing told the length


def test_progress_is_told_from_the_start():
    told = []
    fragments, _ = displaced(OBLIQUE)
    with pytest.raises(StopIteration):
        reduce_fragments(fragments, progress=lambda what, share: _stop(told, what, share))
    assert told == [("reading the broken surfaces", 0.0)]


def _stop(told, what, share):
    told.append((what, share))
    raise StopIteration


def test_a_missing_wedge_is_missed():
    fragments, _ = displaced(("wedge_lower", "wedge_upper"))
    reduction = reduce_fragments(fragments)
    assert not reduction.sure
    assert any("a piece may be missing" in doubt for doubt in reduction.doubts)


def test_the_piece_of_another_fracture_does_not_belong():
    fragments, _ = displaced(("oblique_lower", "wedge_upper"))
    assert not reduce_fragments(fragments).sure


def test_two_alike_pieces_are_never_sure():
    vertices, faces = lying("oblique_lower")
    again = vertices + np.array([1.0, 30.0, 20.0])
    assert not reduce_fragments([Fragment("a", vertices, faces), Fragment("b", again, faces)]).sure


def test_nothing_tells_the_turn_of_a_round_shaft_that_broke_straight_across():
    vertices, faces = pipe(14.0, 9.0, 60.0)
    lower = Fragment("lower", vertices, faces)
    upper = Fragment("upper", vertices + np.array([2.0, 1.0, 66.0]), faces)
    reduction = reduce_fragments([lower, upper])
    (fit,) = reduction.pairs
    assert not reduction.sure
    assert not fit.turn_known
    assert fit.slides.turn > 3.0
    assert fit.slides.along < 1.0
    assert any("turned about the shaft" in doubt for doubt in reduction.doubts)
    assert fit.contact > 0.9  # all else is found


def test_a_hint_that_contradicts_the_fit_makes_it_unsure():
    fragments, _, matcher, plain = oblique()
    ends = (fragments[0].vertices[:, 2].argmin(), fragments[1].vertices[:, 2].argmax())
    points = tuple(f.vertices[row] for f, row in zip(fragments, ends, strict=True))
    hinted = reduce_fragments(fragments, Settings(hints=(Hint((0, 1), points),)), matcher=matcher)
    assert plain.sure
    assert not hinted.sure
    assert any("said to belong together" in doubt for doubt in hinted.doubts)


@pytest.mark.parametrize(("short", "turn"), [(0.0, 0.0), (5.0, 0.0), (0.0, 15.0)])
def test_a_template_tells_length_and_turn(short, turn):
    """Held against the whole shaft, mirrored and moved: the other side of the same person."""
    _, moves, matcher, _ = oblique()
    vertices, faces = lying("shaft")
    flip = moved(np.eye(4), vertices @ [[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    template = Template(flip * [-1.0, 1.0, 1.0] + [90.0, 20.0, -7.0], faces[:, ::-1], mirror=True)
    angle = np.radians(turn)
    still = np.eye(4)
    still[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    still[2, 3] = -short
    poses = {0: matcher.inner(np.eye(4)), 1: matcher.inner(still @ np.linalg.inv(moves[1]))}
    base = matcher.by_size[0]
    back = np.linalg.inv(poses[base])
    found = compare(matcher, {k: back @ pose for k, pose in poses.items()}, template)
    assert found.misfit < 1.0
    # the demonstration's fragments stand a little apart where they belong
    assert found.short == pytest.approx(short, abs=0.8)
    assert found.turn == pytest.approx(turn, abs=0.5)
    assert bool(found.doubts()) == (turn > 9.7)


def test_a_template_of_another_bone_is_told():
    _, moves, matcher, _ = oblique()
    poses = {k: matcher.inner(np.linalg.inv(move)) for k, move in enumerate(moves)}
    back = np.linalg.inv(poses[matcher.by_size[0]])
    found = compare(matcher, {k: back @ pose for k, pose in poses.items()}, Template(*lying("end")))
    assert "another bone" in found.doubts()[0]
    assert not found.length_agrees
    assert not found.turn_agrees


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        (Settings(fixed=2), "fragment 3 is named, but there are 2"),
        (Settings(order=(0,)), "does not name every fragment once"),
    ],
)
def test_wrong_numbers_are_refused(settings, told):
    with pytest.raises(CaseError, match=told):
        reduce_fragments(displaced(OBLIQUE)[0], settings)


def test_one_fragment_or_the_same_twice_is_refused():
    piece = displaced(OBLIQUE)[0][0]
    with pytest.raises(CaseError, match="1 fragment to put together"):
        reduce_fragments([piece])
    with pytest.raises(CaseError, match="are the same mesh"):
        reduce_fragments([piece, Fragment("again", piece.vertices, piece.faces)])
