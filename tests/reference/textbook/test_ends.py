"""Bone ends and short bones against what is taught of them; sources in `textbook_situations`."""

import numpy as np
import pytest
from textbook_bones import NECK
from textbook_situations import asked, decisions, lengths, record, said

from trajplan.implants import load_catalogue
from trajplan.show import drill_sheet

PARTIAL = [
    "ankle, inner malleolus",
    "condyle split",
    "poor end bone",
    "femoral neck",
    "kneecap, transverse",
]
#: What a deep thread holds in cancellous bone, N a mm of thread and mm of diameter: 855 to
#: 1074 N of screws of 6 to 7.5 mm on 25 mm in foam of 237 kg/m3 (Weidling et al. 2022, Table 2),
#: so 5 to 6 a mm of both; bone of half to twice that density holds a quarter to four times it
#: (strength grows as the density squared: Carter and Hayes 1976, abstract).
HOLD = (1.2, 24.0)


@pytest.mark.parametrize("name", [*PARTIAL, "articular step", "kneecap, with tension band"])
def test_nothing_is_asked_that_a_teacher_would_not_ask(name):
    """Each decision stands in `textbook_situations` with the reason why it is right."""
    assert decisions(name) == asked(name)


@pytest.mark.parametrize("name", PARTIAL)
def test_the_whole_thread_lies_beyond_the_fracture(name):
    """AO Foundation, online surgery reference, malleoli, lag screw; Wheeless' Textbook."""
    for screw in record(name).screws:
        assert screw.thread_length is not None
        assert screw.thread.start > screw.fracture_depth.max


@pytest.mark.parametrize("name", PARTIAL)
def test_a_blind_screw_is_not_the_longest_that_fits(name):
    """Parker et al. 2013: 30 mm pressed more than 45 mm; the far wall is not sought."""
    for screw in record(name).screws:
        assert screw.hold == "unicortical"
        assert screw.proud_tip < 0.0


@pytest.mark.parametrize("name", PARTIAL)
def test_hold_is_of_the_order_that_was_measured(name):
    for screw in record(name).screws:
        a_mm = screw.holding.estimate / screw.purchase / float(screw.kind[2:])
        assert HOLD[0] <= a_mm <= HOLD[1]


def test_ankle_two_screws_of_the_length_that_is_used():
    """40, 45 and 50 mm were used (BOFAS 2010), 30 and 45 compared (Parker et al. 2013)."""
    plan = record("ankle, inner malleolus")
    assert len(plan.screws) == 2
    assert all(28.0 <= length <= 50.0 for length in lengths(plan.title))
    assert all(screw.washer for screw in plan.screws)


def test_ankle_needs_no_plate():
    assert not [why for verdict, why in said("ankle, inner malleolus", "screws_alone")
                if verdict in ("caution", "fail", "unknown")]  # fmt: skip


def test_ankle_squeezes_as_a_lag_screw_does():
    """1 kg/cm2 over the fracture was measured in malleoli: 0.6 to 2.8 (Parker et al. 2013).

    Over a fracture of 460 mm2 that is 27 to 126 N together; 107 to 113 N were measured under
    one 3.5 mm screw in artificial bone, so up to some 220 N for two.
    """
    together = sum(screw.squeeze.estimate for screw in record("ankle, inner malleolus").screws)
    assert 20.0 <= together <= 500.0


def test_ankle_passes():
    assert decisions("ankle, inner malleolus") == set()


def test_neck_says_what_hands_do_there():
    """In patients 58 of 107 screws behind and above left the neck (Eur J Orthop Surg Traumatol
    2020, doi 10.1007/s00590-020-02717-z, abstract): free hand is no sure way, and wires are set."""
    ((verdict, why),) = said("femoral neck", "by_hand")
    assert verdict == "caution"
    assert "set wires first" in why


def test_ankle_is_ordinary_work_by_hand():
    """Every trauma unit does it free hand, under an image (common practice)."""
    assert said("ankle, inner malleolus", "by_hand") == []


def test_condyle_two_screws_square_to_the_split():
    plan = record("condyle split")
    assert len(plan.screws) == 2
    assert all(screw.tilt <= 12.0 for screw in plan.screws)
    assert all(screw.washer for screw in plan.screws)


def test_condyle_screws_lie_side_by_side_and_not_at_the_thin_edge():
    """Side by side along the joint; each through a fragment thicker than the screw's diameter."""
    first, second = record("condyle split").screws
    assert abs(first.entry[2] - second.entry[2]) < 6.5  # at one height under the joint
    assert abs(first.entry[1] - second.entry[1]) >= 13.0
    assert all(screw.fracture_depth.min >= 2.0 * 6.5 for screw in (first, second))


def test_condyle_lengths_stay_within_the_bone():
    assert all(30.0 <= length <= 70.0 for length in lengths("condyle split"))


def test_condyle_split_in_good_bone_passes():
    assert decisions("condyle split") == set()


def test_poor_end_bone_wants_a_buttress():
    ((verdict, why),) = said("poor end bone", "screws_alone")
    assert verdict == "caution"
    assert "buttress plate" in why


def test_articular_step_is_reduced_before_anything_is_drilled():
    """2 mm and more of a joint are reduced first (EFORT Open Rev 2017;2, abstract)."""
    assert record("articular step").verdict == "fail"
    ((verdict, why),) = said("articular step", "fragments_step")
    assert verdict == "fail"
    assert "not reduced" in why


def test_articular_step_gets_no_drilling_steps():
    sheet = drill_sheet(record("articular step"), load_catalogue())
    assert len(sheet.screws) == 2
    assert not any(screw.steps for screw in sheet.screws)


def test_neck_three_parallel_screws():
    screws = record("femoral neck").screws
    assert len(screws) == 3
    for i in range(3):
        for j in range(i):
            cosine = np.dot(screws[i].direction, screws[j].direction)
            assert np.degrees(np.arccos(min(cosine, 1.0))) <= 10.0


def test_neck_tips_end_in_the_head_clear_of_the_joint():
    """5 to 12 mm from the joint (Wheeless' Textbook, hip fractures, screw length)."""
    centre, radius = 62.0 * NECK, 24.0
    for screw in record("femoral neck").screws:
        tip = np.array(screw.entry) + screw.thread.end * np.array(screw.direction)
        ahead = np.linalg.norm(tip - centre)
        assert 5.0 <= radius - ahead <= 12.0 + 3.25  # the thread's own width beside the axis


def test_neck_lengths_and_threads():
    """AO: the thread in the head; 70 to 100 mm of a hip this size (typically 95, Wheeless)."""
    plan = record("femoral neck")
    assert all(70.0 <= length <= 100.0 for length in lengths(plan.title))
    assert {screw.thread_length for screw in plan.screws} == {16.0}


def test_neck_is_fixed_by_screws_alone():
    assert "screws_alone" not in decisions("femoral neck")


def test_neck_screws_may_run_along_the_neck():
    assert "along_shaft" not in decisions("femoral neck")


def test_kneecap_wants_a_tension_band():
    ((verdict, why),) = said("kneecap, transverse", "pulled_apart")
    assert verdict == "caution"
    assert "tension band" in why


def test_kneecap_with_a_tension_band_has_none_to_decide():
    assert "pulled_apart" not in decisions("kneecap, with tension band")


def test_kneecap_screws_fit_the_bone():
    """42 mm from tip to base: 30 to 40 mm."""
    assert all(28.0 <= length <= 40.0 for length in lengths("kneecap, transverse"))
