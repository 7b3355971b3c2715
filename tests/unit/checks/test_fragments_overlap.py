"""Rule: fragments do not run into one another."""

import numpy as np
import pytest

from trajplan.checks import Limits, fragments_overlap
from trajplan.fracture import Offset, Overlap, PairReport, Turn

LIMITS = Limits()


def pair(depth, fragments=(0, 1)):
    nowhere = Offset(0.0, 0.0, np.zeros(3), 0.0)
    overlap = Overlap(80.0 * depth, depth, np.array([9.6, 0.0, -2.0]))
    return PairReport(
        fragments, ("Z1",), 100.0, nowhere, nowhere, 1.0, overlap, 0, Turn(0.0, False)
    )


@pytest.mark.parametrize(
    ("depth", "word"),
    [(0.0, "pass"), (0.5, "pass"), (0.501, "caution"), (2.0, "caution"), (2.001, "fail")],
)
def test_depth(depth, word):
    found = fragments_overlap([pair(depth)], LIMITS)
    assert (found.verdict.word, found.subject, found.measured) == (word, "plan", depth)
    assert found.limit == (2.0 if word == "fail" else 0.5)


def test_the_worst_pair_is_named_with_its_place():
    found = fragments_overlap([pair(0.2), pair(0.8, (0, 2)), pair(0.6, (1, 2))], LIMITS)
    assert found.why.startswith("Fragments 1 and 3 overlap by up to 0.8 mm at (9.6, 0.0, -2.0)")


def test_no_fragments_no_finding():
    assert fragments_overlap([], LIMITS) is None
