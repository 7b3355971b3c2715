"""Rule: a screw is no thicker than a third of the bone or so."""

from dataclasses import replace

import numpy as np
import pytest
from builders import bone_of, changed, screw, screws_in, shaft, words, zone_of
from specimens import box, lathe

from trajplan.bone import shaft_axis
from trajplan.checks import Limits, bone_share

LIMITS = Limits()


def across(bone, height=50.0, thread=4.5, angle=20.0):
    """A screw across a shaft along z, through a fracture 20 degrees off its length."""
    a = np.radians(angle)
    zone = zone_of(bone, [0, 0, height], [np.cos(a), 0, np.sin(a)])
    kind = screw(thread_diameter=thread)
    return screws_in(bone, [[-60.0, 0, height]], [[1, 0, 0]], zones=zone, kind=kind)


def ruled(screws, axis, zones=()):
    return bone_share(screws, LIMITS, axis, zones)


def test_of_a_round_shaft():
    """4.5 mm in 28 mm: 16.1 %; the slices of a 64-sided prism are 0.1 % narrower."""
    ruling = ruled(across(shaft()), shaft_axis(shaft().surface))
    assert words(ruling) == ["pass"]
    assert ruling.measured == pytest.approx(100 * 4.5 / 28.0, rel=2e-3)


@pytest.mark.parametrize(
    ("share", "word"),
    [(0.1, "pass"), (0.34, "pass"), (0.3401, "caution"), (0.5, "caution"), (0.5001, "fail")],
)
def test_at_the_limits(share, word):
    axis = shaft_axis(shaft().surface)
    axis = replace(axis, diameters=np.full_like(axis.diameters, 4.5 / share))
    ruling = ruled(across(shaft()), axis)
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(100 * share)


def test_the_width_is_that_at_the_crossing():
    """A cone from 20 to 40 mm across: at a third of its height 26.7 mm."""
    cone = bone_of(lathe((10.0, 20.0), (0.0, 120.0)))
    axis = shaft_axis(cone.surface)
    assert axis.found
    ruling = ruled(across(cone, height=40.0), axis)
    assert ruling.measured == pytest.approx(100 * 4.5 / (20.0 + 20.0 / 3.0), rel=5e-3)


def test_a_width_that_is_not_known_is_unknown():
    axis = shaft_axis(shaft().surface)
    open_ = replace(axis, diameters=np.where(np.abs(axis.heights) < 5.0, np.nan, axis.diameters))
    assert words(ruled(across(shaft()), open_)) == ["unknown"]
    assert words(ruled(across(shaft(), height=70.0), open_)) == ["pass"]
    none = replace(axis, heights=np.full_like(axis.heights, np.nan))
    assert words(ruled(across(shaft()), none)) == ["unknown"]


def test_what_crosses_no_fracture_is_left_out():
    outside = changed(across(shaft()), "crossing", inside=False)
    assert words(ruled(outside, shaft_axis(shaft().surface))) == [None]


def test_without_a_shaft_the_fracture_has_a_width():
    """A block of 40 by 30 by 12 mm, cut across its length: the short side of the cut is 12 mm."""
    block = bone_of(box((-20, -15, -6), (20, 15, 6)))
    axis = shaft_axis(block.surface)
    assert not axis.found
    zone = zone_of(block, [0, 0, 0], [1, 0, 0])
    screws = screws_in(block, [[-60.0, 0, 0]], [[1, 0, 0]], zones=zone)
    ruling = ruled(screws, axis, (zone,))
    assert words(ruling) == ["caution"]
    assert ruling.measured == pytest.approx(100 * 4.5 / 12.0)
    # where the fracture is in several zones, none of them is as wide as the bone
    assert words(ruled(screws, axis, (zone, zone))) == ["unknown"]
    other = replace(zone, fragments=(0, 1))
    assert words(ruled(screws, axis, (zone, other))) == ["caution"]
