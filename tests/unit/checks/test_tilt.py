"""Rule: the axis stands square on the fracture."""

import numpy as np
import pytest
from builders import changed, in_slab, words

from trajplan.checks import Limits, tilt

SLIDE = Limits().slide_angle


@pytest.mark.parametrize(
    ("angle", "word"),
    [(0, "pass"), (19.9, "pass"), (20.1, "caution"), (24.6, "caution"), (24.8, "fail"),
     (45, "fail")],
)  # fmt: skip
def test_angle_off_the_normal(angle, word):
    ruling = tilt(in_slab(angle=angle), Limits())
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(angle, abs=1e-5)


def test_at_the_limits():
    screws = changed(
        in_slab(x=np.zeros(5)), "crossing", tilt=[20, 20.001, SLIDE, SLIDE + 0.001, np.nan]
    )
    ruling = tilt(screws, Limits())
    assert words(ruling) == ["pass", "caution", "caution", "fail", "unknown"]
    assert ruling.limit[[1, 3]] == pytest.approx([20, SLIDE])


def test_friction_moves_the_angle_at_which_fragments_slide():
    assert words(tilt(in_slab(angle=25), Limits(friction=0.5))) == ["caution"]
    assert words(tilt(in_slab(angle=25), Limits(friction=0.5, max_tilt=26))) == ["pass"]
    assert words(tilt(in_slab(angle=10), Limits(friction=0.1))) == ["caution"]
    assert words(tilt(in_slab(angle=10), Limits(friction=0.1, friction_most=0.15))) == ["fail"]


def test_the_friction_is_the_taught_limit_of_tilt():
    """20 degrees: Wheeless' Textbook of Orthopaedics, lag screw theory (published)."""
    assert Limits().planned_tilt == Limits().max_tilt == 20.0
    assert Limits().slip_angle == pytest.approx(20.0, abs=0.01)


def test_position_screws_and_misses_are_left_out():
    assert words(tilt(in_slab(angle=45, technique="position"), Limits())) == [None]
    assert words(tilt(in_slab(x=[90]), Limits())) == [None]
    assert words(tilt(in_slab(x=[]), Limits())) == []
