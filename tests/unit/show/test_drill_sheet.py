"""Every number of a drill sheet is the plan's, and no step stands there that does not apply.

Order of steps: common practice; what is drilled, tapped and countersunk for which technique:
the sources in `trajplan.show._drill.sheet`.
"""

import re
from operator import attrgetter

import pytest

from trajplan.cautions import CAUTIONS
from trajplan.files import FindingRecord, WireRecord
from trajplan.show import drill_sheet, drill_sheet_text

GLIDING = {
    "hold": "bicortical",
    "entry_angle": 27.3,
    "near_cortex": {"thickness": 7.1, "basis": "modelled"},
    "far_cortex": {"thickness": 7.2, "basis": "modelled"},
    "fracture_depth": {"min": 11.73, "axis": 13.0, "max": 14.31},
    "gliding_hole": {"diameter": 4.5, "from": 0.0, "to": 14.31},
    "thread_hole": {"diameter": 3.2, "from": 14.31, "to": 26.42},
    "tap": {"diameter": 4.5, "from": 14.31, "to": 26.42},
    "countersink": {"diameter": 8.0, "depth": 1.27},
    "thread": {"from": 0.5, "to": 28.5},
    "proud_tip": 2.09,
}
PARTIAL = {
    "kind": "HB6.5",
    "hold": "unicortical",
    "washer": "13.0",
    "length": 55.0,
    "seat": -1.5,
    "gauge": 61.83,
    "near_cortex": {"thickness": 1.9, "basis": "assumed"},
    "fracture_depth": {"min": 8.0, "axis": 9.0, "max": 10.03},
    "gliding_hole": None,
    "shank_hole": {"diameter": 4.5, "from": 0.0, "to": 10.03},
    "thread_hole": {"diameter": 3.2, "from": 10.03, "to": 53.48},
    "tap": {"diameter": 6.5, "from": 0.0, "to": 8.24},
    "thread": {"from": 21.52, "to": 53.48},
    "proud_tip": -6.81,
}
POSITION = {
    **GLIDING,
    "technique": "position",
    "gliding_hole": None,
    "countersink": None,
    "thread_hole": {"diameter": 3.2, "from": 0.0, "to": 26.42},
    "tap": {"diameter": 4.5, "from": 0.0, "to": 26.42},
}
TECHNIQUES = {"gliding": GLIDING, "partial": PARTIAL, "position": POSITION}
#: Digits that are names, not measures.
NAMES = r"\b(screw \d+|wire \d+|HA\d\.\d|HB\d\.\d|washer 13\.0)\b"


def finding(rule, verdict, why="Why.", subject="screw 1"):
    return FindingRecord(
        rule=rule, subject=subject, verdict=verdict, unit="", why=why, source="common practice"
    )


@pytest.fixture
def sheet(plan, record, catalogue):
    def build(*screws, verdict="pass", findings=()):
        made = [record(f"screw {i}", **fields) for i, fields in enumerate(screws, start=1)]
        return drill_sheet(plan(*made, verdict=verdict, findings=findings), catalogue)

    return build


def steps(sheet):
    return [*sheet.before, *(s for screw in sheet.screws for s in screw.steps), *sheet.after]


def actions(sheet):
    return [step.action for step in sheet.screws[0].steps]


def text_of(sheet, action):
    (step,) = (step for step in steps(sheet) if step.action == action)
    return step.text


@pytest.mark.parametrize("technique", TECHNIQUES)
def test_every_number_is_the_plans(technique, record, plan, catalogue):
    skids = {"findings": (finding("entry_angle", "caution"),), "entry_angle": 40.73}
    made = record(**(TECHNIQUES[technique] | skids))
    sheet = drill_sheet(plan(made), catalogue)
    seen = 0
    for step in steps(sheet):
        for figure in step.figures:
            assert figure.value == attrgetter(figure.name)(made)
            assert float(figure.text) == pytest.approx(figure.value, abs=0.0501)
        written = re.findall(r"\d+(?:\.\d+)?", re.sub(NAMES, "", step.text))
        assert written == [figure.text.lstrip("-") for figure in step.figures], step.text
        seen += len(written)
    assert seen > 7


@pytest.mark.parametrize(
    ("technique", "wanted"),
    [
        ("gliding", {"gliding_hole.diameter", "gliding_hole.end", "thread_hole.diameter",
                     "thread_hole.end", "countersink.depth", "countersink.diameter", "gauge",
                     "tap.diameter", "tap.end", "length", "proud_tip", "fracture_depth.max"}),
        ("partial", {"shank_hole.diameter", "shank_hole.end", "thread_hole.diameter",
                     "thread_hole.end", "tap.diameter", "tap.end", "length", "thread.start"}),
        ("position", {"thread_hole.diameter", "thread_hole.end", "gauge", "tap.diameter",
                      "tap.end", "length", "proud_tip"}),
    ],
)  # fmt: skip
def test_every_number_that_is_needed_is_there(sheet, technique, wanted):
    named = {f.name for step in steps(sheet(TECHNIQUES[technique])) for f in step.figures}
    assert wanted <= named


def test_no_steps_where_the_fragments_are_not_reduced(sheet):
    lies = "Fragments 1 and 2 are turned by 20.0 degrees."
    wrong = finding("fragments_turn", "fail", lies, "plan")
    made = sheet(GLIDING, POSITION, verdict="fail", findings=(wrong,))
    assert steps(made) == []
    assert "The fragments are not reduced" in made.warnings[1]
    assert f"FAIL: {lies}" in made.warnings
    assert all("before the reduction" in screw.heading for screw in made.screws)
    near = finding("fragments_turn", "caution", lies, "plan")
    assert steps(sheet(GLIDING, POSITION, verdict="caution", findings=(near,)))


def test_depths_stand_where_they_belong(sheet):
    made = sheet(GLIDING)
    assert "4.5 mm drill through its sleeve, along the axis, to 14.3 mm" in text_of(
        made, "Gliding hole"
    )
    assert "lies 11.7 to 14.3 mm deep" in text_of(made, "Gliding hole")
    assert "3.2 mm drill, in the far fragment" in text_of(made, "Thread hole")
    assert "leaves 26.4 mm from the near surface" in text_of(made, "Thread hole")
    assert "8 mm countersink, 1.3 mm deep" in text_of(made, "Countersink")
    assert "Expected: 25.5 mm" in text_of(made, "Depth gauge")
    assert "4.5 mm tap, the far fragment only, from 14.3 to 26.4 mm" in text_of(made, "Tap")
    assert "28 mm long" in text_of(made, "Screw")
    assert "tip protrudes 2.1 mm past" in made.screws[0].steps[-1].text
    made = sheet(PARTIAL)
    assert "3.2 mm drill, through both fragments, to 53.5 mm" in text_of(made, "Thread hole")
    assert "4.5 mm drill to 10.0 mm" in text_of(made, "Shank hole")
    assert "6.5 mm tap, the near cortex only, to 8.2 mm" in text_of(made, "Tap")
    assert "begins 21.5 mm deep" in made.screws[0].steps[-1].text
    made = sheet(POSITION)
    assert "whole hole, near and far fragment, to 26.4 mm" in text_of(made, "Tap")


def test_lag_screw_through_a_gliding_hole(sheet):
    assert actions(sheet(GLIDING)) == [
        "Gliding hole", "Thread hole", "Countersink", "Depth gauge", "Tap", "Screw",
        "Check on imaging",
    ]  # fmt: skip
    made = sheet(GLIDING)
    assert "sleeve of the 3.2 mm drill into the gliding hole" in text_of(made, "Thread hole")
    assert "through the far cortex" in text_of(made, "Thread hole")
    assert "far fragment only" in text_of(made, "Tap")
    assert "7.1 mm thick" in text_of(made, "Countersink")
    assert "assumed" not in text_of(made, "Countersink")
    assert "fracture closes" in text_of(made, "Screw")


def test_lag_screw_with_a_partial_thread_and_a_washer(sheet):
    made = sheet(PARTIAL)
    assert actions(made) == [
        "Thread hole", "Shank hole", "No countersink", "Measure", "Tap", "Screw",
        "Check on imaging",
    ]  # fmt: skip
    assert "through both fragments" in text_of(made, "Thread hole")
    assert "far cortex stays whole" in text_of(made, "Thread hole")
    assert "the washer spreads the load" in text_of(made, "No countersink")
    assert "near cortex only" in text_of(made, "Tap")
    assert "with washer 13.0" in text_of(made, "Screw")
    assert "61.8" not in drill_sheet_text(made)  # a gauge cannot hook in a blind hole


def test_first_turns_are_tapped_where_no_cortex_is_known(sheet):
    unknown = {**PARTIAL, "near_cortex": {"thickness": None, "basis": "unknown"}}
    assert "first turns only" in text_of(sheet(unknown), "Tap")


def test_position_screw_closes_no_gap(sheet):
    made = sheet(POSITION)
    assert actions(made) == [
        "Thread hole", "No countersink", "Depth gauge", "Tap", "Screw", "Check on imaging",
    ]  # fmt: skip
    assert "the whole hole, near and far fragment" in text_of(made, "Tap")
    assert "closes no gap" in text_of(made, "Screw")
    assert "gliding" not in drill_sheet_text(made).lower()
    assert "Fracture closed" not in drill_sheet_text(made)


def test_lag_screw_that_does_not_meet_the_fracture_is_told_to_press_nothing(sheet):
    fields = {**POSITION, "technique": "lag", "fracture_depth": None}
    made = sheet(fields)
    assert "presses nothing together" in text_of(made, "No gliding hole")
    assert "nothing closes the gap" in text_of(made, "Screw")


def test_assumed_cortex_is_called_assumed_at_the_countersink(sheet):
    fields = {**GLIDING, "near_cortex": {"thickness": 7.1, "basis": "assumed"}}
    assert "assumed" in text_of(sheet(fields), "Countersink")


def test_unknown_drills_say_so(sheet):
    fields = {**GLIDING, "kind": "HA4.0", "thread_hole": None, "tap": None}
    made = sheet(fields)
    for action in ("Thread hole", "Tap"):
        assert text_of(made, action).startswith("UNKNOWN: no source of the catalogue names")
    shank = {**PARTIAL, "kind": "HB4.0", "shank_hole": None}
    assert text_of(sheet(shank), "Shank hole").startswith("UNKNOWN")


def test_numbers_run_through_the_sheet(sheet):
    made = steps(sheet(GLIDING, POSITION, PARTIAL))
    assert [step.number for step in made] == list(range(1, len(made) + 1))


def test_several_lag_screws_are_tightened_in_turn_and_no_other(sheet):
    made = sheet(GLIDING, POSITION, GLIDING)
    assert "screw 1, screw 3 in turn" in text_of(made, "Tighten in turn")
    assert "in turn with the others" in made.screws[0].steps[-2].text
    for alone in (sheet(GLIDING), sheet(GLIDING, POSITION)):
        assert "Tighten in turn" not in [step.action for step in steps(alone)]


def test_the_drill_is_started_with_care_only_where_it_may_skid(sheet):
    assert "Start the drill" not in actions(sheet(GLIDING))
    skids = {**GLIDING, "findings": (finding("entry_angle", "caution"),)}
    assert actions(sheet(skids))[0] == "Start the drill"
    cannot_tell = {**GLIDING, "findings": (finding("entry_angle", "unknown"),), "entry_angle": None}
    assert "Start the drill" not in actions(sheet(cannot_tell))


def test_planned_wires_are_named_and_else_it_says_that_there_are_none(plan, record, catalogue):
    wire = WireRecord(
        id="wire 1", kind="W1.6", diameter=1.6, entry=(0, 0, 0), exit=(20.0, 0, 0),
        direction=(1.0, 0, 0), fracture_depth=9.27, tilt=3.14,
    )  # fmt: skip
    made = plan(record(**GLIDING)).model_copy(update={"wires": (wire,)})
    step = drill_sheet(made, catalogue).before[1]
    assert step.text.startswith("wire 1: drive a 1.6 mm wire")
    assert [(f.name, f.value) for f in step.figures] == [
        ("diameter", 1.6), ("fracture_depth", 9.27), ("tilt", 3.14),
    ]  # fmt: skip
    assert "The plan places none" in drill_sheet(plan(record(**GLIDING)), catalogue).before[1].text


def test_screws_that_cannot_be_drilled_have_no_steps(sheet):
    misses = {"entry": None, "exit": None}
    made = sheet(misses, {**GLIDING, "length": None})
    assert [screw.steps for screw in made.screws] == [(), ()]
    assert "misses the bone" in made.screws[0].heading
    assert made.after == ()


def test_a_failing_plan_says_so_at_its_head_and_findings_stand_by_their_screw(sheet):
    fields = {
        **GLIDING,
        "findings": (finding("tilt", "caution", "Tilted."), finding("tip_past", "fail", "Short."),
                     finding("head_seat", "pass", "Fine.")),
    }  # fmt: skip
    made = sheet(
        fields, verdict="fail", findings=(finding("count", "fail", "One of two.", "plan"),)
    )
    assert made.warnings == (
        "This plan fails a rule: do not drill by it before that is settled.",
        "No screw of it may be drilled as planned, so there are no steps.",
        "FAIL: One of two.",
    )
    assert made.screws[0].warnings == ("FAIL: Short.", "CAUTION: Tilted.")
    assert steps(made) == []
    assert not sheet(GLIDING).warnings


def test_an_assumed_cortex_is_heard_where_it_is_drilled(sheet):
    assumed = finding("cortex_known", "note", "The near cortex is an assumption of the case.")
    made = sheet({**GLIDING, "findings": (assumed,)})
    assert made.screws[0].warnings == ("NOTE: The near cortex is an assumption of the case.",)


def test_a_screw_that_fails_has_no_steps_and_the_others_keep_theirs(sheet):
    fails = {**GLIDING, "findings": (finding("tip_past", "fail"), finding("tilt", "fail"))}
    made = sheet(GLIDING, fails, PARTIAL, verdict="fail")
    assert [bool(screw.steps) for screw in made.screws] == [True, False, True]
    assert made.screws[1].heading.endswith(
        "NOT TO BE DRILLED as planned, it fails tip_past, tilt: no steps"
    )
    assert "screw 1, screw 3 in turn" in text_of(made, "Tighten in turn")
    assert made.warnings[0].startswith("This plan fails a rule")
    assert made.warnings[1].startswith("Steps follow for screw 1, screw 3 only.")
    assert made.warnings[1].endswith("was judged with screw 2 as well, and was not judged without.")
    assert "it fails tip_past, tilt" in drill_sheet_text(made)


def test_screws_that_meet_are_both_left_out(sheet):
    meet = finding("screw_gap", "fail", subject="screw 1 + screw 3")
    made = sheet(GLIDING, GLIDING, GLIDING, verdict="fail", findings=(meet,))
    assert [bool(screw.steps) for screw in made.screws] == [False, True, False]
    assert "it fails screw_gap" in made.screws[2].heading
    crowded = sheet(
        GLIDING,
        GLIDING,
        findings=(finding("screw_spacing", "caution", subject="screw 1 + screw 2"),),
    )
    assert all(screw.steps for screw in crowded.screws)


def test_a_name_with_a_plus_is_no_pair(plan, record, catalogue):
    """Of "A + B" and C that meet both are left out; A, that the name seems to hold, is not."""
    meet = finding("screw_gap", "fail", subject="A + B + C")
    made = plan(
        *(record(n, **GLIDING) for n in ("A + B", "C", "A")), verdict="fail", findings=(meet,)
    )
    screws = drill_sheet(made, catalogue).screws
    assert [bool(screw.steps) for screw in screws] == [False, False, True]


def test_torques_are_told_for_comparison_and_only_where_they_are_known(sheet):
    torques = {
        "stripping_torque": {"low": 1.44, "estimate": 3.0, "high": 7.68},
        "breaking_torque": {"low": 4.2, "estimate": 5.0, "high": 6.64},
    }
    known = {**GLIDING, **torques}
    text = text_of(sheet(known), "Screw")
    assert "for comparison, not as a target" in text
    assert "strips in the bone at 1.4 to 7.7 N\N{MIDDLE DOT}m" in text
    assert "its core gives way at 4.2 to 6.6 N\N{MIDDLE DOT}m." in text
    assert "Past 80 %" in text
    assert "strip" not in text_of(sheet(GLIDING), "Screw")
    half = {**torques, "breaking_torque": {"low": None, "estimate": 5.0, "high": 6.64}}
    assert "strip" not in text_of(sheet({**GLIDING, **half}), "Screw")


def test_torques_stand_where_screws_are_tightened(sheet):
    """Several lag screws are driven first and tightened in turn; a position screw at once."""
    low = {"stripping_torque": {"low": 1.4, "estimate": 3.0, "high": 7.7},
           "breaking_torque": {"low": 4.2, "estimate": 5.0, "high": 6.6}}  # fmt: skip
    other = {**low, "stripping_torque": {"low": 2.4, "estimate": 3.0, "high": 8.7}}
    made = sheet({**GLIDING, **low}, {**GLIDING, **other}, GLIDING, {**POSITION, **low})
    turns = next(s for s in made.after if s.action == "Tighten in turn")
    assert "screw 1 strips in the bone at 1.4 to 7.7" in turns.text
    assert "screw 2 strips in the bone at 2.4 to 8.7" in turns.text
    assert "screw 3 strips" not in turns.text
    assert "screw 4" not in turns.text
    assert {(f.of, f.name) for f in turns.figures} >= {
        ("screw 1", "stripping_torque.low"), ("screw 2", "stripping_torque.low"),
    }  # fmt: skip
    driven = [next(s for s in screw.steps if s.action == "Screw").text for screw in made.screws]
    assert ["strips" in text for text in driven] == [False, False, False, True]


def test_a_blind_hole_is_measured_from_the_seat(sheet):
    """53.48 mm from the surface, the seat 1.5 mm above it: the gauge reads both."""
    made = sheet(PARTIAL)
    text = text_of(made, "Measure")
    assert "Expected: 55.0 mm" in text
    assert "stopped at 53.5 mm from the bone's surface" in text
    (figure,) = (f for s in steps(made) for f in s.figures if f.name == "blind_depth")
    assert figure.value == pytest.approx(53.48 + 1.5)


def test_a_head_that_sinks_in_first_is_told_beside_the_torques(sheet):
    torques = {
        "stripping_torque": {"low": 1.4, "estimate": 3.0, "high": 7.7},
        "breaking_torque": {"low": 4.2, "estimate": 5.0, "high": 6.6},
    }
    pressed = finding("head_pressure", "caution")
    sinks = pressed.model_copy(update={"measured": 3.4})
    may = pressed.model_copy(update={"measured": 0.4})
    text = text_of(sheet({**PARTIAL, **torques, "findings": (sinks,)}), "Screw")
    assert "Of screw 1 long before: its head is expected to sink in. Stop when" in text
    assert "sink" not in text_of(sheet({**PARTIAL, **torques, "findings": (may,)}), "Screw")


def test_joint_is_checked_where_one_is_in_question(sheet):
    assert "joint" not in text_of(sheet(GLIDING), "Finish")
    near = {**GLIDING, "findings": (finding("joint_clearance", "pass"),)}
    made = [s.text for s in sheet(near).after if s.action == "Check on imaging"]
    assert "No tip in a joint" in made[0]
    without = [s.text for s in sheet(GLIDING).after if s.action == "Check on imaging"]
    assert "joint" not in without[0]


def test_a_name_with_braces_stays_text(plan, record, catalogue):
    odd = record("screw {1}", **GLIDING)
    assert "screw {1}" in drill_sheet_text(drill_sheet(plan(odd), catalogue))


def test_text_has_the_cautions_first_and_every_step(sheet):
    made = sheet(GLIDING, PARTIAL)
    text = drill_sheet_text(made)
    flat = " ".join(text.split())
    places = [flat.index(" ".join(caution.split())) for caution in CAUTIONS]
    assert max(places) < flat.index("1. Reduce and hold")
    for step in steps(made):
        assert " ".join(f"{step.number}. {step.action} {step.text}".split()) in flat
    assert max(map(len, text.splitlines())) <= 88
    assert text.endswith("\n")


def test_the_finish_says_what_was_judged_of_bearing_load(sheet):
    judged = finding("screws_alone", "pass", "The screws are protected by a plate.", "plan")
    told = text_of(sheet(GLIDING, findings=(judged,)), "Finish")
    assert "The screws are protected by a plate." in told
    assert "does not judge" not in told
    assert "does not judge" in text_of(sheet(GLIDING), "Finish")


def test_no_countersink_says_why(sheet):
    told = text_of(sheet({**GLIDING, "countersink": None}), "No countersink")
    assert told == "None is cut: the near cortex is not known to bear one."
