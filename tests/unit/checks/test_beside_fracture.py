"""A screw beside the given fracture surface does not cross the fracture."""

import numpy as np
from builders import screws_in as place
from builders import slab

from trajplan.bone import as_surface
from trajplan.checks import Limits, crosses_fracture
from trajplan.fracture import fracture_from_surface

PATCH = (
    np.array([[-10.0, -10, -4], [10, -10, -4], [10, 10, -4], [-10, 10, -4]]),
    np.array([[0, 1, 2], [0, 2, 3]]),
)


def test_only_axes_over_the_surface_cross_it():
    zones = fracture_from_surface(slab(), as_surface(PATCH)).zones
    start = [[x, 0.0, 9.0] for x in (0.0, 9.0, 11.5, 12.5, 18.0)]
    screws = place(slab(), start, np.tile([0.0, 0, -1], (5, 1)), zones=zones)
    assert screws.crossing.inside.tolist() == [True, True, True, False, False]
    verdicts = [
        finding.verdict.word for finding in crosses_fracture(screws, Limits()).findings("abcde")
    ]
    assert verdicts == ["pass"] * 3 + ["fail"] * 2
