"""A shaft runs on: a pose that kinks it is no reduction, however well the broken surfaces lie."""

import numpy as np
from displaced import OBLIQUE, lying
from scipy.spatial.transform import Rotation

from trajplan.reduction import MOST_SHIFT, MOST_TURN, Fragment, Matcher
from trajplan.reduction._match import Prior, _may_be
from trajplan.reduction._pair import Pair


def test_a_break_turned_about_its_own_normal_is_refused():
    matcher = Matcher.of([Fragment(name, *lying(name)) for name in OBLIQUE])
    pair = Pair(*(matcher.samples[number] for number in matcher.by_size[:2]))
    prior = Prior(MOST_TURN, MOST_SHIFT)
    assert _may_be(pair, np.eye(4), prior)
    points = pair.standing.points[pair.standing.broken]
    middle = points.mean(axis=0)
    normal = np.linalg.svd(points - middle, full_matrices=False)[2][2]
    turned = np.eye(4)
    turned[:3, :3] = Rotation.from_rotvec(np.radians(44.0) * normal).as_matrix()
    turned[:3, 3] = middle - turned[:3, :3] @ middle
    assert prior.allows(turned, pair.middle)  # it is no farther than a fragment may have moved
    assert pair.score(turned).contact > 0.4  # and much of the break still lies on the other
    assert not _may_be(pair, turned, prior)
