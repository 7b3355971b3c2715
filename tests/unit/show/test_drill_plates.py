"""Drill sheet of a plate: the order of use, every number from the plan, nothing for what fails.

Sources: the order that the plan gives (AO Foundation, online surgery reference, compression
plates; Wheeless' Textbook of Orthopaedics, theory of compression plates, prebending).
"""

import pytest

from trajplan.files import BearingsRecord, FindingRecord, PlaceRecord
from trajplan.show import drill_sheet, drill_sheet_text

#: A lag screw of which no fracture is known: here its steps do not matter.
PLAIN = {"gliding_hole": None}
FAILS = {
    "verdict": "fail", "measured": 1.0, "limit": 0.0, "unit": "mm", "why": "Because.",
    "source": "x",
}  # fmt: skip


def fails(rule, subject):
    return FindingRecord(rule=rule, subject=subject, **FAILS)


@pytest.fixture
def sheet(plan, plate_record, record, catalogue):
    def build(*screws, **changes):
        made = plan(*(screws or (record(**PLAIN),)), plates=(plate_record(**changes),))
        return drill_sheet(made, catalogue)

    return build


def all_steps(made):
    return [*made.before, *(s for part in made.screws for s in part.steps), *made.after]


def test_a_plate_is_fixed_in_its_order(sheet):
    made = sheet()
    assert [part.screw for part in made.screws] == ["screw 1", "plate 1"]
    plate = made.screws[1]
    assert [step.action for step in plate.steps] == [
        "Bend", "Hole 3", "Fix the plate", "Hole 4", "Hole 2", "Hole 5",
    ]  # fmt: skip
    numbers = [step.number for step in all_steps(made)]
    assert numbers == list(range(1, len(numbers) + 1))


def test_first_fragment_and_overbend_come_first(sheet):
    steps = sheet().screws[1].steps
    assert "stands 1.3 mm off the bone" in steps[0].text
    assert "Fix the plate to lower" in steps[1].text
    unknown = sheet(overbend=None, overbend_why="No slope is known.").screws[1].steps[0].text
    assert "UNKNOWN" in unknown
    assert unknown.endswith("No slope is known.")


def test_numbers_of_a_hole_are_those_of_its_screw(sheet):
    step = next(s for s in sheet().screws[1].steps if s.action == "Hole 4")
    assert "eccentrically" in step.text
    assert "1.0 mm off the middle of the hole, away from the fracture" in step.text
    assert {(f.of, f.name, f.text) for f in step.figures} == {
        ("plate 1 hole 4", "thread_hole.diameter", "2.5"),
        ("plate 1 hole 4", "thread_hole.end", "26.4"),
        ("plate 1 hole 4", "gauge", "27.0"),
        ("plate 1 hole 4", "tap.diameter", "3.5"),
        ("plate 1 hole 4", "length", "30"),
    }
    neutral = next(s for s in sheet().screws[1].steps if s.action == "Hole 2")
    assert "off the middle" not in neutral.text  # a neutral guide does that by itself
    assert neutral.text.startswith("Neutral screw, in the middle of the hole. plate 1 hole 2:")


def test_tilt_in_the_hole_is_told_towards_its_ends(sheet, plate_record):
    holes = plate_record().hole
    tilted = holes[1].model_copy(update={"tilt_along": 12.0, "tilt_across": -3.0})
    made = sheet(hole=(holes[0], tilted, *holes[2:]))
    text = next(s.text for s in made.screws[1].steps if s.action == "Hole 2")
    assert "tilted 12\N{DEGREE SIGN} along the plate, its tip towards hole 6" in text
    assert "3\N{DEGREE SIGN} across it, its tip to the right as seen from hole 1" in text


def test_lag_screws_stand_where_the_order_has_them(sheet, record):
    order = (
        {
            "says": "Press the fracture with screw 1 and screw 2 first.",
            "screws": ("screw 1", "screw 2"),
        },
        {"says": "Bend the plate to the bone by the bending sheet."},
        {"says": "Hole 2: neutral screw.", "holes": (2,), "screws": ("plate 1 hole 2",)},
    )
    made = sheet(
        record(**PLAIN),
        record("screw 2", z=16.0, **PLAIN),
        work="protect",
        overbend=None,
        order=order,
    )
    assert [part.screw for part in made.screws] == ["plate 1", "screw 1", "screw 2", "plate 1"]
    assert [s.action for s in made.screws[0].steps] == ["Fix the plate"]
    assert [s.action for s in made.screws[3].steps] == [
        "Tighten in turn",
        "Fix the plate",
        "Hole 2",
    ]
    assert "Tighten in turn" not in [s.action for s in made.after]
    assert "needs a plate" not in drill_sheet_text(made)


def test_nothing_is_put_on_that_fails(sheet, plate_record, record, catalogue, plan):
    made = sheet(findings=(fails("plate_bend", "plate 1"),))
    assert made.screws[1].steps == ()
    assert "NOT TO BE PUT ON as planned, it fails plate_bend" in made.screws[1].heading
    screws = plate_record().screws
    bad = screws[3].model_copy(update={"findings": (fails("plunge", "plate 1 hole 4"),)})
    steps = sheet(screws=(*screws[:3], bad, *screws[4:])).screws[1].steps
    text = next(s.text for s in steps if s.action == "Hole 4")
    assert "NOT TO BE DRILLED" in text
    assert "mm drill" not in text
    pair = plan(
        record(**PLAIN),
        plates=(plate_record(),),
        findings=(fails("screw_gap", "screw 1 + plate 1 hole 2"),),
    )
    text = next(s.text for s in all_steps(drill_sheet(pair, catalogue)) if s.action == "Hole 2")
    assert "NOT TO BE DRILLED" in text


def test_nothing_before_the_reduction(plan, plate_record, record, catalogue):
    made = plan(
        record(**PLAIN),
        plates=(plate_record(),),
        findings=(fails("fragments_gap", "A+B"),),
        verdict="fail",
    )
    assert not all_steps(drill_sheet(made, catalogue))


def test_a_sentence_on_all_screws_is_said_once(sheet, plate_record):
    note = {**FAILS, "verdict": "note", "rule": "cortex_known", "why": "Cortex is assumed."}
    screws = tuple(
        s.model_copy(update={"findings": (FindingRecord(subject=s.id, **note),)})
        for s in plate_record().screws
    )
    assert sheet(screws=screws).screws[1].warnings == (
        f"NOTE: {', '.join(f'plate 1 hole {n}' for n in range(1, 7))}: Cortex is assumed.",
    )


def test_of_two_answers_to_one_question_the_worse_stands(plan, plate_record, record, catalogue):
    told = {**FAILS, "rule": "joint_clearance", "measured": None, "limit": None}
    far = FindingRecord(subject="plan", **told | {"verdict": "note", "why": "No joint is near."})
    untold = FindingRecord(
        subject="plate 1", **told | {"verdict": "unknown", "why": "It cannot be told."}
    )
    for one, other in ((far, untold), (untold, far)):
        made = plan(record(**PLAIN), plates=(plate_record(findings=(other,)),), findings=(one,))
        text = drill_sheet_text(drill_sheet(made, catalogue))
        assert "It cannot be told." in text
        assert "No joint is near." not in text
    alone = plan(record(**PLAIN), plates=(plate_record(),), findings=(far,))
    assert "No joint is near." in drill_sheet_text(drill_sheet(alone, catalogue))


def test_a_head_in_a_plate_needs_no_countersink(sheet):
    def cut(**changes):
        steps = sheet(**changes).screws[0].steps
        return next(s.text for s in steps if s.action == "No countersink")

    assert cut(lag=("screw 1",)) == "None is cut: the head rests in the hole of the plate."
    assert "plate" not in cut()


def test_a_plate_is_found_by_its_end_holes_and_the_one_filled_first(
    plan, plate_record, record, catalogue
):
    ends = {"ends": (40.0, 60.0), "tips": (5.0, 9.0)}
    places = tuple(
        PlaceRecord(id=f"plate 1 hole {n}", fracture=float(n), **ends) for n in (1, 3, 6)
    )
    bearings = BearingsRecord(ends=("upper", "lower"))
    made = plan(record(**PLAIN), plates=(plate_record(),)).model_copy(
        update={"places": places, "bearings": bearings}
    )
    steps = drill_sheet(made, catalogue).screws[1].steps
    marks = [s.action for s in steps].index("Mark the plate")
    assert marks < next(i for i, s in enumerate(steps) if s.action.startswith("Hole"))
    for n in (1, 3, 6):
        told = f"Hole {n}: 40 mm along the bone from the model's upper end"
        assert told in steps[marks].text
        assert f"{n} mm from the nearest point of the fracture line" in steps[marks].text
    assert steps[marks].text.endswith("Check it on imaging.")


def test_a_gauge_on_top_of_a_plate_reads_more_by_plate_and_gap(sheet, plate_record):
    # the screw stands square in its hole: the reading grows by the way from top to seat alone
    plate = plate_record()
    screw, hole = plate.screws[1], plate.hole[1]
    sunk = (screw.entry[0] + screw.seat) - hole.centre[0]  # of the seat below the underside
    reads = screw.gauge + sunk + plate.size.thickness
    text = next(s.text for s in sheet().screws[1].steps if s.action == "Hole 2")
    assert "27.0 mm expected from the lowest point of the head in its hole" in text
    assert f"stands on top of the plate reads {reads:.1f} mm" in text


def test_the_finish_says_what_load_was_judged(sheet, plan, plate_record, record, catalogue):
    load = {**FAILS, "rule": "opening_load", "verdict": "pass", "why": "It stays closed at 500 N."}
    made = plan(
        record(**PLAIN),
        plates=(plate_record(),),
        findings=(FindingRecord(subject="plan", **load),),
    )
    text = drill_sheet(made, catalogue).after[-1].text
    assert text.endswith("PASS: It stays closed at 500 N.")
    assert "does not judge" not in text
    assert "does not judge how much load" in sheet().after[-1].text
