"""What is said of joints where the case names none."""

import numpy as np
import pytest
from builders import bone_of, obstacle, screws_in, shaft, slab, zone_of
from specimens import box, lathe, real_bone, tube

from trajplan.bone import read_surface, shaft_axis
from trajplan.checks import Surroundings, Verdict, joint_given

LONG = bone_of(tube(length=160.0))
SLOPE = [np.sin(np.radians(30.0)), 0.0, np.cos(np.radians(30.0))]


def across(bone, *heights):
    """Screws of 4.5 mm straight across a bone along z."""
    start = np.array([[-60.0, 0.0, z] for z in heights]).reshape(-1, 3)
    middle = (bone.surface.vertices.min(axis=0) + bone.surface.vertices.max(axis=0)) / 2.0
    zone = zone_of(bone, middle, SLOPE)
    way = np.tile([1.0, 0.0, 0.0], (len(start), 1))
    return screws_in(bone, start, way, zones=zone), zone


def told(bone, *heights, obstacles=(), end=False, axis=True):
    screws, zone = across(bone, *heights)
    line = shaft_axis(bone.surface) if axis else None
    return joint_given(screws, Surroundings(bone, (zone,), obstacles, None, shaft=line, end=end))


@pytest.mark.parametrize(
    ("heights", "verdict"),
    # the tube is 160 mm long and 28 wide: its ends reach to 42 and 118; 5 mm to a joint, and the
    # head of 8 mm about the axis, leave 51 to 109
    [((80.0,), "note"), ((52.0, 108.0), "note"), ((50.0,), "unknown"), ((80.0, 110.0), "unknown")],
)
def test_a_screw_in_the_shaft_is_near_no_joint(heights, verdict):
    assert told(LONG, *heights).verdict.word == verdict


def test_each_end_is_as_long_as_it_is_wide():
    """A shaft 20 mm across whose upper end flares to 60: joints may reach 90 mm down from 200."""
    radii, heights = [10, 10, 10, 30, 30], [0, 100, 170, 190, 200]
    bone = bone_of(lathe(radii, heights))
    low, high = shaft_axis(bone.surface).end_widths
    assert low == pytest.approx(20.0, rel=0.01)
    assert high == pytest.approx(60.0, rel=0.01)
    assert told(bone, 40.0).verdict is Verdict.NOTE  # past 30 + 5 + 4
    assert told(bone, 100.0).verdict is Verdict.NOTE
    assert told(bone, 102.0).verdict is Verdict.UNKNOWN  # 110 - 5 - 4 = 101


def test_nothing_is_said_where_nothing_could_be_hit():
    assert told(shaft(), 50.0, obstacles=(obstacle(box()),)) is None
    assert told(shaft()) is None


def test_unknown_where_the_bone_does_not_tell():
    nerve = obstacle(box(), role="avoid")
    for finding in (
        told(LONG, 80.0, end=True),  # the case says that a bone end is broken
        told(LONG, 80.0, axis=False),
        told(slab(), -10.0),  # no shaft
        told(LONG, 250.0),  # misses the bone
        told(shaft(), 20.0, obstacles=(nerve,)),
    ):
        assert (finding.verdict, finding.subject) == (Verdict.UNKNOWN, "plan")


def test_the_elbow_joints_of_a_real_ulna_are_not_passed_over():
    """Its joint with the radius ends some 45 mm from the tip of the elbow (from memory)."""
    shaft = shaft_axis(read_surface(real_bone("ulna.stl"), "m"))
    ends = [shaft.low, shaft.high]
    thick = int(shaft.end_widths[1] > shaft.end_widths[0])  # the elbow is the wider end
    for away, near in ((36.0, True), (44.0, True), (47.0, True), (100.0, False)):
        height = ends[thick] + (away if thick == 0 else -away)
        assert shaft.past_ends(np.array([height]), 5.0) is not near
