"""Laws of a reduction: what must not change it."""

import numpy as np
from displaced import OBLIQUE, displaced, left, lying, misplaced, moved, movement, oblique

from trajplan.reduction import Fragment, Settings, reduce_fragments

#: mm and degrees: rounding, where the same samples go through the same steps.
ROUNDING = (1e-3, 1e-3)


def test_moving_the_whole_case_moves_all():
    fragments, _, _, reduction = oblique()
    whole = movement(9, 70.0, 200.0, np.zeros(3))
    there = [Fragment(f.name, moved(whole, f.vertices), f.faces) for f in fragments]
    again = reduce_fragments(there, Settings(fixed=0))
    back = np.linalg.inv(whole) @ again.poses[1].matrix @ whole
    remains = back @ np.linalg.inv(reduction.poses[1].matrix)
    shift, turn = misplaced(remains, lying("oblique_upper")[0])
    assert shift < ROUNDING[0]
    assert turn < ROUNDING[1]
    assert again.sure == reduction.sure


def test_order_of_fragments_and_who_is_fixed_change_nothing():
    fragments, _, _, reduction = oblique()
    turned = reduce_fragments(fragments[::-1], Settings(fixed=0))
    assert np.array_equal(turned.poses[0].matrix, np.eye(4))
    # upper fixed: what the lower does is the inverse of what the upper did
    remains = turned.poses[1].matrix @ reduction.poses[1].matrix
    shift, turn = misplaced(remains, lying("oblique_upper")[0])
    assert shift < ROUNDING[0]
    assert turn < ROUNDING[1]
    assert turned.names == reduction.names[::-1]


def test_what_is_reduced_stays():
    fragments, _ = displaced(OBLIQUE, turn=0.0, shift=0.0)
    _, moves, _, reduction = oblique()
    again = reduce_fragments(fragments, Settings(fixed=0))
    apart = left(reduction, moves, 1) @ np.linalg.inv(again.poses[1].matrix)
    shift, turn = misplaced(apart, lying("oblique_upper")[0])
    assert shift < 0.3  # from elsewhere the same place is found, within the noise of samples
    assert turn < 0.3
