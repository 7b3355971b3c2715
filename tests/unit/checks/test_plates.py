"""Rules on plates: at the limit, past it, and where nobody can tell."""

import numpy as np
import pytest

from trajplan.checks import (
    SCREWS_EACH_SIDE,
    Limits,
    Verdict,
    antiglide_hole,
    buttress_push,
    buttress_reach,
    eccentric_screws,
    growth_plate_distance,
    hole_cone,
    hole_over_fracture,
    off_its_line,
    plate_bend,
    plate_clear,
    plate_cuts,
    plate_density,
    plate_fit,
    plate_meets_screw,
    plate_on_bone,
    screws_each_side,
    screws_wanted,
    side_open,
    span_ratio,
)
from trajplan.errors import CaseError

LIMITS = Limits()
PASS, UNKNOWN, CAUTION, FAIL = Verdict.PASS, Verdict.UNKNOWN, Verdict.CAUTION, Verdict.FAIL


@pytest.mark.parametrize(
    ("found", "verdict"),
    [
        (screws_each_side("plate 1", 2, screws_wanted("femur shaft", LIMITS)), FAIL),  # T26
        (screws_each_side("plate 1", 3, screws_wanted("femur shaft", LIMITS)), PASS),
        (screws_each_side("plate 1", 2, screws_wanted("metacarpal", LIMITS)), PASS),
        (screws_each_side("plate 1", 2, screws_wanted(None, LIMITS)), FAIL),
        (screws_each_side("plate 1", 2, screws_wanted(None, Limits(plate_screws=2.0))), PASS),
        (antiglide_hole("plate 1, hole 3", 2.0, LIMITS), CAUTION),  # T22
        (antiglide_hole("plate 1, hole 3", 3.0, LIMITS), PASS),
        (antiglide_hole("plate 1, hole 3", 4.0, LIMITS), PASS),
        (antiglide_hole("plate 1, hole 3", 8.0, LIMITS), CAUTION),
        (antiglide_hole("plate 1, hole 3", np.nan, LIMITS), UNKNOWN),
        (buttress_reach("plate 1", -3.0, 12.0), FAIL),  # it ends before the fragment
        (buttress_reach("plate 1", 4.9, 12.0), FAIL),
        (buttress_reach("plate 1", 5.0, 12.0), CAUTION),
        (buttress_reach("plate 1", 12.0, 12.0), PASS),
        (buttress_reach("plate 1", np.nan, 12.0), UNKNOWN),
        (buttress_push("plate 1", 260.0, 868.0, 67.0), CAUTION),
        (buttress_push("plate 1", 868.0, 868.0, 67.0), PASS),
        (buttress_push("plate 1", np.nan, 868.0, np.nan), UNKNOWN),
        (buttress_push("plate 1", 260.0, np.nan, 67.0), Verdict.NOTE),
        (hole_over_fracture("plate 1, hole 3", -1.0, 3.25, filled=False), CAUTION),  # T23
        (
            hole_over_fracture("plate 1, hole 3", -1.0, 3.25, filled=False, pressed=True),
            Verdict.NOTE,
        ),
        (hole_over_fracture("plate 1, hole 3", -1.0, 3.25, filled=True, pressed=True), PASS),
        (hole_over_fracture("plate 1, hole 3", -1.0, 3.25, filled=True), PASS),
        (hole_over_fracture("plate 1, hole 3", 3.25, 3.25, filled=False), PASS),
        (hole_over_fracture("plate 1, hole 3", np.nan, 3.25, filled=False), UNKNOWN),
        (growth_plate_distance("plate 1", 15.0, LIMITS), CAUTION),  # T24
        (growth_plate_distance("plate 1", 25.0, LIMITS), PASS),
        (growth_plate_distance("plate 1", np.nan, LIMITS), UNKNOWN),
        (plate_fit("plate 1", np.array([0.2, 1.0]), LIMITS), PASS),  # T25
        (plate_fit("plate 1", np.array([0.2, 2.5]), LIMITS), CAUTION),
        (plate_fit("plate 1", np.array([0.2, np.nan]), LIMITS), UNKNOWN),
        (plate_bend("plate 1", np.array([3.0, -16.0]), 15.0, LIMITS), FAIL),  # T20
        (plate_bend("plate 1", np.array([3.0, -15.0]), 15.0, LIMITS), PASS),
        (plate_bend("plate 1", np.array([16.0]), None, LIMITS), FAIL),
        (hole_cone("plate 1, hole 2", 1.0), PASS),
        (hole_cone("plate 1, hole 2", 1.2), FAIL),
        (hole_cone("plate 1, hole 2", np.nan), UNKNOWN),
        (plate_on_bone("plate 1", 0.25), PASS),
        (plate_on_bone("plate 1", 0.26), FAIL),
        (plate_meets_screw("plate 1 + screw 1", 0.5), PASS),
        (plate_meets_screw("plate 1 + screw 1", 0.4), FAIL),
        (plate_meets_screw("plate 1 + screw 1", np.nan), UNKNOWN),
        (plate_clear("plate 1", "the joint", 5.0, 5.0), PASS),
        (plate_clear("plate 1", "the joint", 4.9, 5.0), CAUTION),
        (plate_clear("plate 1", "the joint", np.nan, 5.0), UNKNOWN),
        (off_its_line("plate 1", 2.0), PASS),
        (off_its_line("plate 1", 2.1), CAUTION),
        (plate_cuts("plate 1", 0.3), PASS),
        (plate_cuts("plate 1", 0.4), FAIL),
        (side_open("plate 1"), UNKNOWN),
        (eccentric_screws("plate 1", 2, 0.8, LIMITS), PASS),  # T10
        (eccentric_screws("plate 1", 3, np.nan, LIMITS), CAUTION),
        (eccentric_screws("plate 1", 2, -0.2, LIMITS), CAUTION),
    ],
)
def test_verdicts(found, verdict):
    assert found.verdict is verdict
    assert found.why.endswith(".")
    assert "{" not in found.why
    assert found.source
    if found.measured is not None and "{" not in found.why and verdict is not UNKNOWN:
        assert found.measured == pytest.approx(abs(found.measured))


def test_the_sentence_states_what_was_measured():
    assert "2.5 mm off the bone" in plate_fit("plate 1", np.array([0.2, 2.5]), LIMITS).why
    assert plate_fit("plate 1", np.array([-0.1]), LIMITS).measured == 0.0
    # what is past its limit is not told as the limit itself, and lengths have their unit
    assert "stands 1.04 mm off" in plate_fit("plate 1", np.array([1.04]), LIMITS).why
    assert "16 mm" in buttress_reach("plate 1", 9.0, 16.0).why
    assert "5 mm are the least" in buttress_reach("plate 1", 4.0, 16.0).why
    # only a line tells of the plate, and not how it is rolled: neither a pass nor a fail
    assert hole_cone("screw 1", 1.1, 0.97).verdict is UNKNOWN
    assert "0.97 to 1.10 times" in hole_cone("screw 1", 1.1, 0.97).why
    assert hole_cone("screw 1", 1.1, 1.01).verdict is FAIL
    assert hole_cone("screw 1", 0.9, 0.8).verdict is PASS
    assert "16.0 degrees" in plate_bend("plate 1", np.array([-16.0]), None, LIMITS).why
    assert "first meets the end of its hole" in eccentric_screws("plate 1", 2, -0.2, LIMITS).why
    assert "first meets" not in eccentric_screws("plate 1", 3, 0.5, LIMITS).why


def test_a_region_that_is_not_known():
    with pytest.raises(CaseError, match='no number of screws is known for "femr shaft"; write "f'):
        screws_wanted("femr shaft", LIMITS)
    assert all(note.screws >= 2 and note.source for note in SCREWS_EACH_SIDE.values())


def test_span_and_density():
    # T27: plate of 135 mm, fracture of 25 tan 60 = 43.3 mm, 7 screws in 8 holes.
    assert span_ratio(135.0, 25.0 * np.tan(np.radians(60.0))) == pytest.approx(3.1, abs=0.05)
    assert plate_density(7, 8) == 0.875  # 0.88
    assert span_ratio(135.0, 0.0) == np.inf
