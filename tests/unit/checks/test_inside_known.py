"""Rule: where inside and outside cannot be told apart, the plan says so."""

import numpy as np
from builders import bone_of, in_slab, level, screws_in, slab, words
from specimens import box

from trajplan.checks import Limits, inside_known


def test_only_an_open_mesh_is_spoken_of():
    assert words(inside_known(in_slab(x=[0, 90]), Limits())) == [None, None]
    assert words(inside_known(in_slab(x=[]), Limits())) == []
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    screws = screws_in(
        bone_of((vertices, faces[:-2])), [[0, 0, 9], [90, 0, 9]], np.tile([0.0, 0, -1], (2, 1)),
        zones=level(slab(), 8.0),
    )  # fmt: skip
    assert words(inside_known(screws, Limits())) == ["unknown", None]
