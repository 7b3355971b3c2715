"""Rule: the axis runs parallel to a joint surface."""

import numpy as np
import pytest
from builders import tilted, words

from trajplan.checks import Limits, parallel_to_joint

UP = np.array([0.0, 0.0, 1.0])
ALL = np.ones(1, dtype=bool)


@pytest.mark.parametrize(
    ("off", "word"),
    [(0, "pass"), (9.9, "pass"), (10, "pass"), (10.1, "caution"), (-10.1, "caution"),
     (90, "caution")],
)  # fmt: skip
def test_degrees_out_of_the_plane(off, word):
    """An axis 90 - a degrees off the normal of a plane is a degrees out of the plane."""
    direction = tilted(90 - off, azimuth=37.0)[None]
    for normal in (UP, -UP):
        ruling = parallel_to_joint(direction, ALL, normal, Limits())
        assert words(ruling) == [word]
        assert ruling.measured == pytest.approx(abs(off), abs=1e-6)


def test_the_limit_may_be_set_and_misses_are_left_out():
    direction = np.array([tilted(70), tilted(70)])
    ruling = parallel_to_joint(direction, np.array([True, False]), UP, Limits(parallel=20.001))
    assert words(ruling) == ["pass", None]
    assert words(parallel_to_joint(np.empty((0, 3)), ALL[:0], UP, Limits())) == []
