"""Labels of the picture fit beside it, and the frame of the close view is drawn whole."""

import numpy as np
import pytest

from trajplan.show._picture.camera import View
from trajplan.show._picture.labels import LETTERS_FIT, fitted
from trajplan.show._picture.legend import _short
from trajplan.show._picture.stage import _holds


@pytest.mark.parametrize(
    ("label", "shown"),
    [
        (
            "screw 1  HA4.5 \N{MULTIPLICATION SIGN} 30 mm",
            "screw 1  HA4.5 \N{MULTIPLICATION SIGN} 30 mm",
        ),
        (
            "screw 1  HB6.5 \N{MULTIPLICATION SIGN} 75 mm, 32 mm thread",
            "screw 1  HB6.5 \N{MULTIPLICATION SIGN} 75 mm",
        ),
        ("screw 1  HB6.5, no length found", "screw 1  HB6.5"),
        ("second-from-above  HA4.5 \N{MULTIPLICATION SIGN} 30 mm", "second-from-above"),
        ("the second screw from above  HA4.5", "the second screw from\N{HORIZONTAL ELLIPSIS}"),
    ],
)
def test_a_label_is_shortened_and_never_left_out(label, shown):
    assert fitted(label) == shown
    assert 0 < len(shown) <= LETTERS_FIT


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("oblique_lower.stl", "oblique_lower"),
        ("wedge_piece.OBJ", "wedge_piece"),
        ("body 1.2", "body 1.2"),
        ("a_very_long_fragment.stl", "a_very_long_f\N{HORIZONTAL ELLIPSIS}"),
    ],
)
def test_a_fragments_name_is_not_cut_in_silence(name, shown):
    assert _short(name) == shown


def test_a_frame_that_does_not_fit_is_not_half_drawn():
    view = View(np.zeros(3), np.array([0, 0, 1.0]), np.array([0, 1.0, 0]), 50.0, 90.0)
    corners = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0.0]])
    assert _holds(view, 1.5, corners * [74.0, 49.0, 0.0])
    assert not _holds(view, 1.5, corners * [76.0, 49.0, 0.0])
    assert not _holds(view, 1.5, corners * [74.0, 51.0, 0.0])
