"""Rule: the axis stays in one piece of bone from entry to exit."""

import numpy as np
import pytest
from builders import bone_of, in_slab, level, notched, screws_in, slab, words, zone_of
from specimens import box, joined, lathe, pipe

from trajplan.checks import Limits, leaves_bone

LIMITS = Limits()


def down(bone, zone, x=0.0):
    return screws_in(bone, [[x, 0.0, 99.0]], [[0.0, 0.0, -1.0]], zones=zone)


def test_a_groove_across_the_axis():
    """A neck of radius 6: an axis at x = 7 is in the open for 4 mm before the fracture."""
    bone = bone_of(lathe((10, 10, 6, 6, 10, 10), (0, 40, 40, 44, 44, 80)))
    zone = zone_of(bone, [0, 0, 20], [0, 0, 1])
    assert words(leaves_bone(down(bone, zone, 7.0), LIMITS)) == ["fail"]
    assert words(leaves_bone(down(bone, zone, 0.0), LIMITS)) == ["pass"]


@pytest.mark.parametrize("depth", [29, 25, 15, 5])
def test_a_notch_between_two_parts_of_a_bone(depth):
    """Through both sides of a notch 20 wide, near its roof or near its mouth."""
    zone = zone_of(notched(), [20, 30, 25], [1, 0, 0])
    screws = screws_in(notched(), [[-60, depth, 25]], [[1, 0, 0]], zones=zone)
    assert words(leaves_bone(screws, LIMITS)) == ["fail"]


def test_a_joint_between_two_bones_of_one_mesh():
    """4 mm apart and 80 wide: walled in like a canal, but the fracture is not in it."""
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), box((-40, -40, -50), (40, 40, -24))))
    fracture_in_second = level(bone_of(box((-40, -40, -50), (40, 40, 0))), 35.0)
    assert words(leaves_bone(down(bone, fracture_in_second), LIMITS)) == ["fail"]
    fracture_in_first = level(slab(), 8.0)
    screws = down(bone, fracture_in_first)
    assert screws.corridors.exit == pytest.approx(20.0)
    assert words(leaves_bone(screws, LIMITS)) == ["caution"]


@pytest.mark.parametrize("space", [1.0, 2.0, 3.0])
def test_a_narrow_joint_is_no_fracture_gap(space):
    """Two bones of one mesh, 20 mm each; the fracture lies 8 mm deep in the first.

    The gauge reads the first alone, as it does where the second is not there.
    """
    other = box((-40, -40, -40 - space), (40, 40, -20 - space))
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), other))
    screws = down(bone, level(slab(), 8.0))
    assert screws.corridors.exit == pytest.approx(20.0)
    assert screws.gauge == pytest.approx(down(slab(), level(slab(), 8.0)).gauge)
    assert words(leaves_bone(screws, LIMITS)) == [
        "fail" if screws.tip[0] >= 20 + space else "caution"
    ]


@pytest.mark.parametrize("space", [0.0, 0.5, 2.0])
@pytest.mark.parametrize("slant", [0.0, 15.0, 45.0])
def test_a_slanted_or_closed_joint_is_no_fracture_gap(space, slant):
    """Lines of the ring reach the next bone before the axis leaves the first."""
    other = box((-40, -40, -60 - space), (40, 40, -20 - space))
    both = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), other))
    way = np.array([[np.sin(np.radians(slant)), 0.0, -np.cos(np.radians(slant))]])
    screws, alone = (
        screws_in(bone, -30.0 * way, way, zones=level(slab(), 8.0)) for bone in (both, slab())
    )
    assert screws.gauge == pytest.approx(alone.gauge)
    assert words(leaves_bone(screws, LIMITS)) == ["fail"]


def test_two_bones_that_lie_in_one_another_are_not_told_apart():
    other = box((-40, -40, -60), (40, 40, -18))
    both = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), other))
    assert words(leaves_bone(down(both, level(slab(), 8.0)), LIMITS)) == ["unknown"]


def test_a_tip_that_reaches_the_next_bone_fails():
    other = box((-40, -40, -60), (40, 40, -21))
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), other))
    ruling = leaves_bone(down(bone, level(slab(), 8.0)), LIMITS)
    assert words(ruling) == ["fail"]
    assert "The tip runs into bone that comes past the exit" in ruling.findings(["screw 1"])[0].why


def test_bone_far_past_the_exit_is_a_note():
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), box((-9, -9, -90), (9, 9, -60))))
    ruling = leaves_bone(down(bone, level(slab(), 8.0)), LIMITS)
    assert (words(ruling), ruling.measured.tolist()) == (["note"], [40.0])


def test_bone_past_the_exit():
    bone = bone_of(joined(box((-40, -40, -20), (40, 40, 0)), box((-9, -9, -50), (9, 9, -30))))
    screws = screws_in(
        bone, [[0, 0, 9], [20, 0, 9]], np.tile([0.0, 0, -1], (2, 1)), zones=level(slab(), 8.0)
    )
    assert words(leaves_bone(screws, LIMITS)) == ["note", "pass"]  # 10 mm: past any plunge
    assert screws.corridors.exit.tolist() == [20.0, 20.0]


def test_the_canal_of_a_shaft_open_at_its_ends_is_no_gap():
    bone = bone_of(pipe())
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 0, 50]], [[1, 0, 0]], zones=zone)
    assert words(leaves_bone(screws, LIMITS)) == ["pass"]


def test_two_fragments_with_the_fracture_open_between_them():
    def halves(gap):
        return bone_of(
            joined(box((-40, -40, -8), (40, 40, 0)), box((-40, -40, -20 - gap), (40, 40, -8 - gap)))
        )

    zone = level(slab(), 8.0)
    assert words(leaves_bone(down(halves(1.0), zone), LIMITS)) == ["pass"]
    far = down(halves(10.0), level(slab(40.0), 25.0))
    assert words(leaves_bone(far, LIMITS)) == ["fail"]


def test_an_open_mesh_is_unknown_and_neither_pass_nor_fail():
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    bone = bone_of((vertices, faces[:-2]))
    assert words(leaves_bone(down(bone, level(slab(), 8.0)), LIMITS)) == ["unknown"]


def test_misses():
    assert words(leaves_bone(in_slab(x=[90]), LIMITS)) == [None]
    assert words(leaves_bone(in_slab(x=[]), LIMITS)) == []
