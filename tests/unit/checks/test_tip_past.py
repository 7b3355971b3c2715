"""Rule: the tip of a bicortical screw leaves the far cortex, a little."""

import numpy as np
import pytest
from builders import bone_of, changed, in_slab, level, screw, screws_in, slab, words
from specimens import box

from trajplan.checks import Limits, tip_past

LIMITS = Limits()


def proud(*values, **options):
    screws = in_slab(x=np.zeros(len(values)), **options)
    return changed(screws, tip=screws.seats.seat + screws.gauge + values)


def test_at_the_limits():
    ruling = tip_past(proud(-0.001, 0.0, 0.999, 1.0, 2.0, 3.0, 3.001, np.nan), LIMITS)
    assert words(ruling) == [
        "fail", "caution", "caution", "pass", "pass", "pass", "caution", "unknown",
    ]  # fmt: skip


def test_a_sentence_says_one_thing():
    short, least, most, far = (
        found.why for found in tip_past(proud(-1.5, 0.5, 4.0, 9.0), LIMITS).findings("abcd")
    )
    better = "and no stocked length is better."
    assert short == f"The tip ends 1.5 mm short of the outside of the far cortex, {better}"
    assert least.endswith("by 0.5 mm, where 1.0 mm is the least: the last threads do not bite.")
    assert most.endswith(
        "where 3.0 mm is the most: it protrudes under the soft tissue, so take a shorter one."
    )
    assert far == (
        f"The tip ends 9.0 mm past the far cortex, much too far: 8.0 mm is the most, {better}"
    )


def test_the_deepest_side_of_an_oblique_wall_counts():
    """Tip 1.5 past the axis' exit, and 0.98 past the deep rim of a hole in a wall at 18 degrees."""
    screws = in_slab(angle=18)
    screws = changed(screws, tip=screws.corridors.exit + 1.5)
    assert tip_past(screws, LIMITS).measured < 1.0
    assert words(tip_past(screws, LIMITS)) == ["caution"]


def test_no_stocked_length_reaches():
    ruling = tip_past(in_slab(120.0), LIMITS)
    assert words(ruling) == ["fail"]
    assert ruling.measured == pytest.approx(110 + 0.6928 - 120, abs=1e-3)


def test_a_gap_of_the_tray_is_a_fact_and_no_caution():
    """Steps of 5 mm: nothing between 4 mm proud and 1 mm inside; with 2 mm steps there was."""
    coarse = screw(lengths=(16.0, 21.0, 26.0))
    ruling = tip_past(proud(4.0, 5.9, 6.1, kind=coarse), LIMITS)
    assert words(ruling) == ["note", "note", "caution"]
    inside, short, _ = (found.why for found in ruling.findings("abc"))
    assert inside.endswith("the next shorter screw would end 1.0 mm inside the far cortex.")
    assert short.endswith("the next shorter screw would leave it by only 0.9 mm.")


def test_the_shortest_stocked_stands_out_too_far():
    ruling = tip_past(in_slab(8.0, 3.0), LIMITS)
    assert words(ruling) == ["note"]
    assert ruling.findings("a")[0].why.endswith("no shorter screw is stocked.")


def test_an_exit_through_a_hole_of_the_mesh_is_no_pass():
    vertices, faces = box((-40, -40, -20), (40, 40, 0))
    bone = bone_of((vertices, np.delete(faces, [8, 9], axis=0)))
    screws = screws_in(bone, [[0, 0, 9]], [[0, 0, -1]], zones=level(slab(), 8.0))
    assert words(tip_past(screws, LIMITS)) == ["unknown"]


def test_unicortical_screws_and_misses_are_left_out():
    assert words(tip_past(in_slab(60.0, 20.0, kind="HB6.5"), LIMITS)) == [None]
    assert words(tip_past(in_slab(x=[90]), LIMITS)) == [None]
    assert words(tip_past(in_slab(x=[]), LIMITS)) == []
