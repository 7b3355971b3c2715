"""Where each end of a shaft lies on a whole bone, they lie to each other."""

import numpy as np
from displaced import lying, misplaced, moved, movement, oblique

from trajplan.reduction import Template
from trajplan.reduction._fine import rigid
from trajplan.reduction._template_starts import template_starts


def test_a_template_gives_a_start_near_the_truth():
    _, moves, matcher, _ = oblique()
    vertices, faces = lying("shaft")
    there = movement(5, 40.0, 120.0, vertices.mean(axis=0))
    starts = template_starts(matcher, Template(moved(there, vertices), faces, mirror=False))
    first, second = matcher.by_size[:2]
    found = starts(second, {first: np.eye(4)})
    assert found is not None
    truth = np.linalg.inv(moves[second]) if first == 0 else moves[first]
    ways = [
        misplaced(
            matcher.outer(rigid(turn, shift)) @ np.linalg.inv(truth), lying("oblique_upper")[0]
        )
        for turn, shift in zip(found.rotations, found.shifts, strict=True)
    ]
    nearest = min(shift + 0.2 * turn for shift, turn in ways)
    assert nearest < 5.0  # a start: the broken surfaces decide the rest
    assert len(ways) > 9


def test_a_template_of_another_bone_gives_none():
    _, _, matcher, _ = oblique()
    starts = template_starts(matcher, Template(*lying("end")))
    first, second = matcher.by_size[:2]
    assert starts(second, {first: np.eye(4)}) is None
