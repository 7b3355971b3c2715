"""Rule: the screws of a plan are drilled from one side of the bone."""

import numpy as np
import pytest
from builders import tilted

from trajplan.checks import Approach, Limits, one_approach

LIMITS = Limits()
ABOVE = np.array([0.0, 0.0, 1.0])


def sides(*angles, cone=None):
    """Screws that many degrees off straight down, and perhaps an open side above."""
    direction = np.reshape([tilted(angle) for angle in angles], (-1, 3))
    ids = [f"screw {number + 1}" for number in range(len(angles))]
    return one_approach(direction, ids, Approach(ABOVE, cone) if cone else None, LIMITS)


@pytest.mark.parametrize(
    ("angle", "word"), [(0, "pass"), (90, "pass"), (90.1, "caution"), (180, "caution")]
)
def test_angle_between_two(angle, word):
    found = sides(-20.0, angle - 20.0)
    assert (found.verdict.word, found.subject) == (word, "plan")
    assert found.measured == pytest.approx(angle, abs=1e-5)
    assert found.limit == 90.0


def test_the_widest_pair_is_named():
    found = sides(0.0, 70.0, -70.0)
    assert found.why.startswith(
        "screw 2 and screw 3 are drilled from sides that lie 140 degrees apart"
    )


def test_what_the_case_opens_is_one_side():
    assert sides(60.0, -60.0, cone=60.0).verdict.word == "pass"
    assert sides(60.1, -60.0, cone=60.0).verdict.word == "caution"
    assert sides(0.0, 180.0, cone=60.0).verdict.word == "caution"


def test_one_screw_needs_one_approach():
    assert sides(0.0) is None
    assert sides() is None
