"""Which fragment comes first, how far eccentric screws move a plate, and in which order.

Two published texts say which fragment comes first: "the side of the plate where the fracture
forms an obtuse angle with the plate" (AO Foundation, online surgery reference, tibial shaft,
oblique), "the fragment whose spike is farthest from the plate" (Wheeless' Textbook of
Orthopaedics, theory of compression plates). Here both are measured on the fragments' own
corners, and compared with the program.
"""

from dataclasses import replace

import numpy as np
import pytest

from trajplan.errors import CaseError
from trajplan.implants import load_catalogue
from trajplan.plate import first_fragment, plate_travel

NARROW = load_catalogue().plates["Narrow4.5"]
NAMES = ("lower", "upper")
UP = (0.0, 1.0, 0.0)


def corners(obliquity):
    """Where the fracture meets the bone's far and near side, y 0 and 20; the shaft runs along z."""
    rise = 20.0 * np.tan(np.radians(obliquity))
    return np.array([0.0, 0.0, 0.0]), np.array([0.0, 20.0, -rise])


@pytest.mark.parametrize("obliquity", [45.0, -45.0, 30.0, -60.0, 10.0])
def test_both_wordings(obliquity):
    far, near = corners(obliquity)
    face = near - far
    normal = np.array([0.0, -face[2], face[1]]) / np.linalg.norm(face)  # out of the lower one
    found = first_fragment(normal, UP, NAMES)
    # angle in the lower fragment between its fracture face and the surface under the plate
    inside = np.degrees(np.arccos((-face / np.linalg.norm(face)) @ [0.0, 0.0, -1.0]))
    obtuse = "lower" if inside > 90.0 else "upper"
    spike = "lower" if far[2] > near[2] else "upper"  # the lower one's highest point is far off
    assert found.name == obtuse == spike
    assert found.lean == pytest.approx(abs(obliquity))
    assert found.name in found.why


def test_the_mirrored_case_swaps_and_nothing_else():
    # T14
    here = first_fragment([0, 1, 1], UP, NAMES)
    there = first_fragment([0, -1, 1], UP, NAMES)
    assert (here.name, here.other) == (there.other, there.name) == NAMES
    assert here.lean == pytest.approx(there.lean)
    # the same fracture told from the other fragment
    assert first_fragment([0, -1, -1], UP, NAMES[::-1]) == here


def test_straight_across_either_will_do():
    assert first_fragment([0, 0, 1], UP, NAMES).name is None
    assert first_fragment([0.05, 0.05, 1], UP, NAMES).name is None
    assert first_fragment([0, 0.1, 1], UP, NAMES).name == "lower"
    # oblique, but across the plate: under it neither fragment comes first
    assert first_fragment([1, 0, 1], UP, NAMES).name is None


def test_travel_of_eccentric_screws():
    # T10: 1 mm each, 1.8 mm left after it (Wheeless' Textbook of Orthopaedics, theory of
    # compression plates).
    assert plate_travel(NARROW, 1).shift == 1.0
    two = plate_travel(NARROW, 2)
    assert (two.shift, two.loosen) == (2.0, (1,))
    assert two.left == pytest.approx(0.8)
    assert plate_travel(NARROW, 3).left < 0.0
    untold = replace(NARROW, hole=replace(NARROW.hole, travel=None))
    assert np.isnan(plate_travel(untold, 2).left)
    with pytest.raises(CaseError, match="eccentric screws in long holes move no plate"):
        plate_travel(load_catalogue().plates["ThirdTube3.5"], 1)
