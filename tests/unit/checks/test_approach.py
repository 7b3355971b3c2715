"""Rule: the axis is drilled from the side that is open."""

import numpy as np
import pytest
from builders import in_slab, words

from trajplan.checks import Approach, approach

ABOVE = Approach(np.array([0.0, 0.0, 1.0]), 30.0)


def test_the_cone_of_the_open_side():
    for angle, word in ((0, "pass"), (29, "pass"), (30, "pass"), (31, "fail"), (80, "fail")):
        ruling = approach(in_slab(200.0, 8.0, angle=angle), ABOVE)
        assert words(ruling) == [word]
        assert ruling.measured == pytest.approx(angle, abs=1e-5)


def test_the_wrong_side_of_the_body_is_caught():
    """The same bone opened from the other side: every axis points the wrong way."""
    below = Approach(np.array([0.0, 0.0, -1.0]), 60.0)
    ruling = approach(in_slab(x=[0, 5]), below)
    assert words(ruling) == ["fail", "fail"]
    assert ruling.measured == pytest.approx(180.0)


def test_a_case_that_names_no_side_is_unknown():
    assert words(approach(in_slab(x=[0, 90]), None)) == ["unknown", None]


def test_misses():
    assert words(approach(in_slab(x=[90]), ABOVE)) == [None]
    assert words(approach(in_slab(x=[]), ABOVE)) == []
