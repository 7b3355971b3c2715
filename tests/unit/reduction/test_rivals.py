"""Another way to put fragments together is told with how far it lies behind and away."""

import numpy as np
import pytest
from displaced import oblique
from scipy.spatial.transform import Rotation

from trajplan.reduction._assemble import Way
from trajplan.reduction._reduce import _rival


def test_a_rival_says_how_it_differs():
    _, _, matcher, _ = oblique()
    first, second = matcher.by_size[:2]
    shaft = matcher.samples[second].shaft
    middle = matcher.samples[second].break_middle
    turn = np.eye(4)
    turn[:3, :3] = Rotation.from_rotvec(np.radians(30.0) * shaft.axis).as_matrix()
    turn[:3, 3] = middle - turn[:3, :3] @ middle + 4.0 * shaft.axis
    best = Way({first: np.eye(4), second: np.eye(4)}, 1.2, {})
    rival = _rival(matcher, Way({first: np.eye(4), second: turn}, 0.9, {}), best, first)
    assert rival.score == pytest.approx(0.75)
    assert rival.fragment == second
    assert rival.turn == pytest.approx(30.0)
    assert rival.shift == pytest.approx(4.0)
    assert np.array_equal(rival.poses[first].matrix, np.eye(4))
    # whoever is fixed, what differs between the two fragments is the same
    turned = _rival(matcher, Way({first: np.eye(4), second: turn}, 0.9, {}), best, second)
    assert turned.turn == pytest.approx(30.0)
