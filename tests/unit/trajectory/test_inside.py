"""What fills a bone inside its cortex: marrow in a shaft, cancellous bone in an end."""

import numpy as np
import pytest
from specimens import box, cylinder, lathe, real_bone, sphere

from trajplan.bone import as_surface, read_surface, shaft_axis
from trajplan.trajectory import Within, everywhere, inside_of

#: A long bone turned about z: a shaft of 26 mm, an end of 60 mm above, a cut below.
LONG = lathe(
    np.interp(np.arange(0.0, 301.0, 5.0), [0, 200, 240, 290, 300], [13, 13, 30, 30, 10]),
    np.arange(0.0, 301.0, 5.0),
)


def words(mesh, *points, stated=None):
    shaft = shaft_axis(as_surface(mesh))
    return [Within(int(v)).name for v in inside_of(shaft, stated).at(np.array(points, float))]


def test_marrow_in_the_shaft_and_cancellous_bone_in_the_end():
    """By hand: flared from 32.5 mm of width on, at z = 208; the square of 60 mm from z = 240 on."""
    heights = (40, 150, 200, 225, 245, 270, 299)
    found = words(LONG, *[(0, 0, z) for z in heights])
    assert found == ["MARROW"] * 3 + ["UNTOLD"] + ["CANCELLOUS"] * 3


def test_the_case_says_what_the_shape_does_not_tell():
    between = (0, 0, 225)
    assert words(LONG, between, (0, 0, 100), stated=Within.CANCELLOUS) == ["CANCELLOUS", "MARROW"]
    assert words(LONG, between, (0, 0, 270), stated=Within.MARROW) == ["MARROW", "CANCELLOUS"]


def test_an_end_that_does_not_flare_may_be_a_cut():
    heights = (1, 25, 28, 60, 92, 95, 119)
    found = words(cylinder(13.0, 120.0), *[(0, 0, z) for z in heights])
    assert found == ["UNTOLD"] * 2 + ["MARROW"] * 3 + ["UNTOLD"] * 2


def test_short_bones_are_filled_and_short_pieces_are_untold():
    assert words(sphere(20.0), (0, 0, 0), (15, 0, 0)) == ["CANCELLOUS"] * 2
    piece = cylinder(13.0, 40.0)
    assert words(piece, (0, 0, 20)) == ["UNTOLD"]
    assert words(piece, (0, 0, 20), stated=Within.MARROW) == ["MARROW"]
    assert words(box((0, 0, 0), (30, 30, 30)), (15, 15, 15), stated=Within.CANCELLOUS) == [
        "CANCELLOUS"
    ]


def test_a_place_that_is_not_known_is_untold():
    assert words(LONG, (np.nan, 0, 0)) == ["UNTOLD"]
    assert (everywhere(Within.MARROW).at(np.zeros((2, 3))) == Within.MARROW).all()


@pytest.mark.parametrize(
    ("name", "shares"),
    [("r_femur", {0.5: "MARROW", 0.35: "MARROW", 0.97: "CANCELLOUS", 0.03: "CANCELLOUS"}),
     ("2mc", {0.5: "MARROW", 0.95: "CANCELLOUS", 0.05: "CANCELLOUS"}),
     ("r_talus", {0.5: "CANCELLOUS"}), ("scaphoid", {0.5: "CANCELLOUS"})],
)  # fmt: skip
def test_real_bones(name, shares):
    """Anatomy (common practice): shares of the length along the bone, from either end."""
    shaft = shaft_axis(read_surface(real_bone(f"{name}.stl"), "m"))
    heights = shaft.low + np.array(list(shares)) * shaft.length
    found = inside_of(shaft, None).at(shaft.point + heights[:, None] * shaft.direction)
    assert [Within(int(v)).name for v in found] == list(shares.values())
