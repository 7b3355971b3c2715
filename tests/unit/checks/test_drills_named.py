"""Rule: a drill that no source names is not made up."""

import numpy as np
from builders import in_slab, screw, words

from trajplan.checks import Limits, drills_named


def test_only_a_missing_drill_is_spoken_of():
    assert screw("HA4.0").thread_hole is None
    assert words(drills_named(in_slab(kind="HA4.0", x=[0, 90]), Limits())) == ["unknown", None]
    assert np.isnan(in_slab(kind="HA4.0").holes.thread).all()
    assert words(drills_named(in_slab(), Limits())) == [None]
    assert words(drills_named(in_slab(x=[]), Limits())) == []
