"""Where an entry lies, in words; every number of a sentence is the record's."""

import pytest

from trajplan.files import BearingsRecord, DistanceRecord, PlaceRecord
from trajplan.implants import load_catalogue
from trajplan.show._drill.sheet import drill_sheet
from trajplan.show._drill.text import drill_sheet_text
from trajplan.show._terminal.text import plan_text
from trajplan.show._words.places import clock_text, place_text, side_text

DEPTH = {"min": 12.0, "axis": 13.0, "max": 14.0}
SHAFT = BearingsRecord(
    side="left", ends=("proximal", "distal"), seen=(0.0, 0.0, 1.0), twelve="anterior"
)


@pytest.mark.parametrize(
    ("degrees", "said"),
    [
        (0.0, "12:00"), (7.4, "12:00"), (7.6, "12:30"), (30.0, "1:00"), (90.0, "3:00"),
        (105.0, "3:30"), (270.0, "9:00"), (345.0, "11:30"), (352.4, "11:30"), (352.6, "12:00"),
        (359.9, "12:00"),
    ],
)  # fmt: skip
def test_clock(degrees, said):
    """One hour is 30 degrees; the nearest half hour is told."""
    assert clock_text(degrees) == said


def test_a_place_on_a_shaft():
    place = PlaceRecord(
        id="screw 2", ends=(124.4, 95.6), tips=(-33.0, -9.2), clock=75.0, facing="medial",
        fracture=18.7,
        landmarks=(DistanceRecord(
            name="knob", distance=98.1,
            offsets=(("medial", 22.0), ("anterior", 1.2), ("distal", 95.0)),
        ),),
        entries=(DistanceRecord(name="screw 1", distance=24.6, offsets=()),),
    )  # fmt: skip
    assert place_text(place, SHAFT) == (
        "124 mm along the bone from the model's proximal end, 96 from the distal; 9 mm proximal of "
        "the fracture's distal tip; at 2:30 (medial), seen from the proximal end with 12 anterior; "
        '19 mm from the nearest point of the fracture line; 98 mm from "knob" (95 distal and '
        "22 medial); 25 mm from the entry of screw 1."
    )


@pytest.mark.parametrize(
    ("tips", "said"),
    [
        ((12.0, -60.0), "12 mm proximal of the fracture's proximal tip"),
        ((-12.0, -60.0), "12 mm distal of the fracture's proximal tip"),
        ((-60.0, -5.0), "5 mm proximal of the fracture's distal tip"),
        ((-60.0, 5.0), "5 mm distal of the fracture's distal tip"),
        ((-60.0, -0.3), "level with the fracture's distal tip"),
    ],
)
def test_the_nearer_tip_is_named_and_the_way_from_it(tips, said):
    place = PlaceRecord(id="screw 1", ends=(1.0, 2.0), tips=tips, clock=0.0)
    assert said in place_text(place, SHAFT)


def test_a_bone_without_shaft_or_landmark_says_so():
    place = PlaceRecord(id="screw 1", fracture=23.0)
    said = place_text(place, BearingsRecord())
    assert said == (
        "23 mm from the nearest point of the fracture line; the case names no landmark to find it "
        "from."
    )


def test_every_output_says_the_side(plan, record):
    made = plan(record(fracture_depth=DEPTH))
    assert side_text(made) == "Side not stated, frame LPS"
    assert "Side not stated, frame LPS." in plan_text(made)
    left = made.model_copy(update={"bearings": SHAFT, "frame": ""})
    assert side_text(left) == "Left side, frame not stated"
    assert "Left side, frame not stated." in drill_sheet_text(drill_sheet(left, load_catalogue()))


def test_the_drill_sheet_marks_each_entry_first(plan, record):
    placed = (PlaceRecord(id="screw 1", fracture=9.0), PlaceRecord(id="screw 2", fracture=7.0))
    screws = (record(fracture_depth=DEPTH), record("screw 2", z=16.0, fracture_depth=DEPTH))
    made = plan(*screws).model_copy(update={"places": placed})
    sheet = drill_sheet(made, load_catalogue())
    for screw, mm in zip(sheet.screws, (9, 7), strict=True):
        assert screw.steps[0].action == "Mark the entry"
        assert screw.steps[0].text.startswith(f"{mm} mm from the nearest point")
        assert "imaging" in screw.steps[0].text
    assert "Entry of screw 2: 7 mm from" in plan_text(made)
