"""The view runs across the screws, shows each apart, and labels do not overlap."""

import numpy as np
import pytest

from trajplan.errors import OutputError
from trajplan.show._items.item import line, solid_item
from trajplan.show._picture.camera import (
    LABEL_STEP,
    LOWEST,
    heads_right,
    label_places,
    overview,
    side_view,
)

ASPECT = 1.2


def axis(start, end, number=0):
    return line(f"screw {number} axis", "axis", [start, end])


def box(low, high):
    corners = np.array(np.meshgrid(*zip(low, high, strict=True))).reshape(3, -1).T.astype(float)
    return solid_item("bone", "bone", (corners, np.array([[0, 1, 2]])))


LONG_BONE = box((-14, -13, -100), (14, 13, 110))


def across(view, *axes):
    return [np.mean(item.points, axis=0) @ view.up for item in axes]


def test_screws_one_above_the_other_are_seen_with_the_bone_upright():
    first, second = axis((-20, 0, 0), (20, 0, 5)), axis((-20, 0, 20), (20, 0, 25))
    view = side_view([LONG_BONE, first, second], ASPECT)
    assert abs(view.toward[1]) == pytest.approx(1.0, abs=1e-6)  # along y, square to both
    assert view.up == pytest.approx([0, 0, 1], abs=0.05)


def test_screws_side_by_side_turn_the_view_until_both_show():
    first, second = axis((-20, -9, 0), (20, -9, 0)), axis((-20, 9, 0), (20, 9, 0))
    view = side_view([LONG_BONE, first, second], ASPECT)
    low, high = sorted(across(view, first, second))
    assert high - low >= 12.0  # apart, though 0 when seen from the front
    assert abs(view.toward @ [0, 0, 1]) < 0.9  # and not down the bone's axis
    assert view.toward @ [1, 0, 0] == pytest.approx(0.0, abs=1e-9)


def test_three_screws_are_all_apart():
    axes = [axis((-20, y, z), (20, y, z)) for y, z in ((-9, 0), (9, 2), (0, 25))]
    view = side_view([LONG_BONE, *axes], ASPECT)
    assert np.diff(sorted(across(view, *axes))).min() > 8.0


def test_heads_are_at_the_left_whatever_way_the_screws_run():
    for x in (20, -20):
        view = side_view([LONG_BONE, axis((-x, 0, 0), (x, 0, 0))], ASPECT)
        assert np.array([np.sign(x), 0, 0]) @ view.right > 0.9


def test_what_is_to_be_kept_clear_of_lies_behind():
    for y in (-40.0, 40.0):
        nerve = solid_item("n", "avoid", (np.array([[0, y, 0], [0, y, 9], [1, y, 0]]), None))
        view = side_view([LONG_BONE, axis((-20, 0, 0), (20, 0, 0)), nerve], ASPECT)
        assert np.array([0, y, 0]) @ view.toward < 0


def test_a_screw_along_the_bone_still_has_a_side():
    view = side_view([LONG_BONE, axis((0, 0, -40), (0, 0, 40))], ASPECT)
    assert view.toward[2] == pytest.approx(0.0, abs=1e-9)
    assert np.isfinite(view.up).all()


def test_screws_from_opposite_sides_are_seen_across():
    view = side_view(
        [LONG_BONE, axis((-20, 0, 0), (20, 0, 4)), axis((20, 0, 20), (-20, 0, 16))], ASPECT
    )
    assert abs(view.toward[1]) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_the_frame_is_right_handed_and_holds_what_matters(count):
    axes = [axis((-20, 0, 20.0 * i), (20, 3, 20.0 * i)) for i in range(count)]
    view = side_view([LONG_BONE, *axes], ASPECT)
    frame = np.stack([view.right, view.up, view.toward])
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    points = np.vstack([i.points for i in axes]) if count else LONG_BONE.points
    seen = (points - view.focus) @ frame.T
    assert np.abs(seen[:, 0]).max() <= view.half_height * ASPECT
    assert np.abs(seen[:, 1]).max() <= view.half_height


def test_overview_holds_the_whole_bone_from_the_same_side():
    items = [LONG_BONE, axis((-20, 0, 0), (20, 0, 0))]
    close = side_view(items, ASPECT)
    whole = overview(items, close, 0.8)
    assert np.array_equal(whole.toward, close.toward)
    seen = (LONG_BONE.points - whole.focus) @ np.stack([whole.right, whole.up]).T
    assert np.abs(seen[:, 0]).max() <= whole.half_height * 0.8
    assert np.abs(seen[:, 1]).max() <= whole.half_height


LEFT = np.zeros(5, dtype=bool)


def test_labels_keep_their_order_and_a_distance():
    view = side_view([LONG_BONE, axis((-20, 0, 0), (20, 0, 0))], ASPECT)
    anchors = np.array([[0.0, 0, 3], [0, 0, 3.1], [0, 0, 3], [0, 0, 40], [0, 0, -11]])
    places = label_places(view, anchors, LEFT, ASPECT)
    height = (places - view.focus) @ view.up
    step = 2 * view.half_height * LABEL_STEP
    assert np.diff(np.sort(height)).min() >= step * (1 - 1e-9)
    assert np.array_equal(np.argsort(height, kind="stable"), [4, 0, 2, 1, 3])
    assert height[[3, 4]] == pytest.approx((anchors[[3, 4]] - view.focus) @ view.up)
    assert np.ptp((places - view.focus) @ view.right) == pytest.approx(0.0, abs=1e-9)


def test_a_low_label_at_the_left_stands_above_the_scale_bar():
    view = side_view([LONG_BONE, axis((-20, 0, 0), (20, 0, 0))], ASPECT)
    low = np.array([[0.0, 0, -20], [0, 0, -19], [0, 0, 5]])
    places = label_places(view, low, LEFT[:3], ASPECT)
    height = (places - view.focus) @ view.up
    step = 2 * view.half_height * LABEL_STEP
    assert height == pytest.approx(
        [-LOWEST * view.half_height, step - LOWEST * view.half_height, 5]
    )


def test_labels_stand_at_the_side_of_their_heads_clear_of_the_screws():
    ends = [((-20, 0, 0), (20, 0, 4)), ((20, 0, 20), (-20, 0, 16))]
    items = [LONG_BONE, *(axis(*pair) for pair in ends)]
    items += [line("label", "label", pair, "S") for pair in ends]
    view = side_view(items, ASPECT)
    at_right = heads_right(items, view.right)
    assert at_right.tolist() == [False, True]
    anchors = np.array([[-20.0, 0, 0], [20.0, 0, 20]])
    along = (label_places(view, anchors, at_right, ASPECT) - view.focus) @ view.right
    heads = (anchors - view.focus) @ view.right
    assert along[0] < heads[0] < heads[1] < along[1]


def test_nothing_to_draw_is_refused():
    with pytest.raises(OutputError, match="nothing to draw"):
        side_view([], ASPECT)
