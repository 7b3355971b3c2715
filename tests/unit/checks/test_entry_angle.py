"""Rule: the drill meets the surface squarely enough."""

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, screws_in, words, zone_of
from specimens import cylinder

from trajplan.checks import Limits, entry_angle, exit_angle

LIMITS = Limits()


@pytest.mark.parametrize(
    ("angle", "word"),
    [(0, "pass"), (29, "pass"), (31, "note"), (44, "note"), (46, "caution"), (61, "fail")],
)
def test_angle_on_a_flat_wall(angle, word):
    ruling = entry_angle(in_slab(angle=angle), LIMITS)
    assert words(ruling) == [word]
    assert ruling.measured == pytest.approx(angle, abs=1e-3)


def test_at_the_limits():
    angles = [30, 30.001, 45, 45.001, 60, 60.001, np.nan]
    screws = changed(in_slab(x=np.zeros(7)), entry_angle=angles)
    expected = ["pass", "note", "note", "caution", "caution", "fail", "unknown"]
    assert words(entry_angle(screws, LIMITS)) == expected


def test_part_of_the_rim_misses_the_bone():
    bone = bone_of(cylinder(10.0, 100.0))
    zone = zone_of(bone, [0, 0, 50], [1, 0, 0])
    screws = screws_in(bone, [[-40, 9.5, 50]], [[1, 0, 0]], zones=zone)
    assert words(entry_angle(screws, LIMITS)) == ["unknown"]


def test_misses():
    assert words(entry_angle(in_slab(x=[90]), LIMITS)) == [None]
    assert words(entry_angle(in_slab(x=[]), LIMITS)) == []


def test_exit_through_a_slanted_far_wall():
    """A block whose far wall slants: the drill leaves it at its slope, and past 60 slides."""
    from specimens import box

    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    for slope, word in (
        (40.0, "pass"),
        (45.0, "pass"),
        (45.1, "note"),
        (59.9, "note"),
        (61.0, "fail"),
    ):
        leaning = vertices.copy()
        low = leaning[:, 2] < 0
        leaning[low, 2] = -60 + leaning[low, 0] * np.tan(np.radians(slope))
        bone = bone_of((leaning, faces))
        zone = zone_of(bone, [0, 0, -5], [0, 0, 1])
        screws = screws_in(bone, [[0, 0, 9]], [[0, 0, -1]], zones=zone)
        ruling = exit_angle(screws, LIMITS)
        assert ruling.measured == pytest.approx([slope], abs=1e-6)
        assert words(ruling) == [word]
