"""The same fractures in real bones (package myo-sim); sources in `textbook_situations`."""

import pytest
from textbook_situations import REAL, asked, decisions, lengths, record, said

#: Screws, and the lengths that a teacher expects, mm.
LENGTHS = {
    "femoral neck, real femur": (3, 70, 100),
    "femur shaft, real, long oblique": (2, 24, 45),
    "femoral condyle, real": (2, 30, 70),
    "kneecap, real, transverse": (2, 30, 46),
    "second metacarpal, real": (2, 8, 14),
    # taught: 30 to 50; 28 mm is the shortest here whose whole thread lies past the fracture, as
    # Parker et al. 2013 found best, and a teacher would take it or the next
    "ankle, real tibia": (2, 28, 50),
    "radius shaft, real, short oblique": (1, 14, 22),
}


@pytest.mark.parametrize("name", LENGTHS)
def test_number_and_length_of_the_screws(name):
    count, least, most = LENGTHS[name]
    assert len(record(name).screws) == count
    assert all(least <= length <= most for length in lengths(name))


@pytest.mark.parametrize("name", [situation.name for situation in REAL])
def test_no_screw_fails(name):
    assert record(name).verdict in ("pass", "caution")


@pytest.mark.parametrize("name", LENGTHS)
def test_nothing_is_asked_that_a_teacher_would_not_ask(name):
    """Each decision stands in `textbook_situations` with the reason why it is right."""
    assert decisions(name) == asked(name)


@pytest.mark.parametrize("name", LENGTHS)
def test_a_partial_thread_lies_beyond_the_fracture(name):
    for screw in record(name).screws:
        if screw.thread_length is not None:
            assert screw.thread.start > screw.fracture_depth.max
        assert screw.proud_tip <= 3.0


@pytest.mark.parametrize("name", LENGTHS)
def test_the_assumed_wall_is_told_and_needs_no_decision(name):
    told = said(name, "cortex_known")
    assert told
    assert {verdict for verdict, _ in told} == {"note"}
    assert all("assum" in why for _, why in told)


def test_a_plate_protects_the_screws_of_long_bones():
    for name in ("femur shaft, real, long oblique", "radius shaft, real, short oblique"):
        ((verdict, why),) = said(name, "screws_alone")
        assert verdict == "caution"
        assert "protecting plate" in why


def test_screws_alone_hold_metacarpal_neck_and_ankle():
    for name in ("second metacarpal, real", "femoral neck, real femur", "ankle, real tibia"):
        assert "screws_alone" not in decisions(name)


def test_the_real_kneecap_wants_a_tension_band():
    ((verdict, why),) = said("kneecap, real, transverse", "pulled_apart")
    assert verdict == "caution"
    assert "tension band" in why
