"""A screw is drawn to size, where the plan says."""

import dataclasses

import numpy as np
import pytest

from trajplan.implants import find_screw
from trajplan.show._items.screw import AXIS_REACH, MARK_GAP, WALL_GAP, screw_items

#: A circle of 32 corners falls short of the round by 1 - cos(pi / 32), half a percent.
ROUND = 0.005


def parts(items):
    return {item.role: item for item in items if item.role != "mark"}


@pytest.fixture
def screw(catalogue):
    return find_screw(catalogue, "HA4.5")


def span(item, axis):
    return item.points[:, axis].min(), item.points[:, axis].max()


def test_head_is_as_wide_and_high_as_the_catalogue_says(record, screw):
    head = parts(screw_items(record(), screw, None))["head"]
    # The axis runs along +x from the entry at x = -13; the seat lies 0.5 mm deeper.
    assert span(head, 0) == pytest.approx((-12.5 - screw.head_height, -12.5))
    for axis in (1, 2):
        assert np.ptp(head.points[:, axis]) == pytest.approx(screw.head_diameter, rel=ROUND)


def test_under_surface_of_the_head_is_its_sphere(record, screw):
    head = parts(screw_items(record(), screw, None))["head"]
    centre = np.array([-12.5 - screw.head_radius, 0.0, 0.0])
    below = head.points[head.points[:, 0] > -12.5 - screw.head_height + 1e-9]
    assert np.linalg.norm(below - centre, axis=1) == pytest.approx(screw.head_radius)


def test_thread_runs_from_and_to_where_the_plan_says(record, screw):
    thread = parts(screw_items(record(), screw, None))["thread"]
    assert span(thread, 0) == pytest.approx((-10.0, 14.0))
    radius = np.hypot(thread.points[:, 1], thread.points[:, 2])
    assert radius.min() == pytest.approx(screw.core_diameter / 2)
    assert radius.max() == pytest.approx(screw.thread_diameter / 2)
    crest = thread.points[radius > screw.thread_diameter / 2 - 1e-9, 0]
    assert crest.min() - -10.0 < screw.pitch  # the ridge itself reaches both ends
    assert 14.0 - crest.max() < screw.pitch


def test_tip_lies_the_length_beyond_the_seat(record, screw):
    shank = parts(screw_items(record(), screw, None))["shank"]
    assert span(shank, 0)[1] == pytest.approx(-13.0 + 0.5 + 28.0)


def test_a_length_counted_from_the_top_ends_a_head_earlier(record, screw):
    other = dataclasses.replace(screw, length_from="top")
    shorter = record(thread={"from": 3.0, "to": 23.0})
    shank = parts(screw_items(shorter, other, None))["shank"]
    assert span(shank, 0)[1] == pytest.approx(-13.0 + 0.5 - screw.head_height + 28.0)


def test_partial_thread_leaves_a_smooth_shank(record, catalogue):
    screw = find_screw(catalogue, "HB6.5")
    changes = {"kind": "HB6.5", "length": 60.0, "thread": {"from": 28.0, "to": 60.0}}
    drawn = parts(screw_items(record(gliding_hole=None, **changes), screw, None))
    shank = drawn["shank"].points
    smooth = shank[shank[:, 0] < -13.0 + 28.0 + 1e-9]
    assert np.hypot(smooth[:, 1], smooth[:, 2]).max() == pytest.approx(screw.shank_diameter / 2)
    assert np.ptp(drawn["thread"].points[:, 0]) == pytest.approx(32.0)
    assert "gliding hole" not in drawn


def test_a_screw_without_thread_in_its_record_is_smooth(record, screw):
    drawn = parts(screw_items(record(thread=None), screw, None))
    assert "thread" not in drawn
    assert span(drawn["shank"], 0)[1] == pytest.approx(15.5)


def test_gliding_hole_is_drawn_where_it_is_drilled(record, screw):
    hole = parts(screw_items(record(), screw, None))["gliding hole"]
    assert span(hole, 0) == pytest.approx((-13.0, 1.0))
    radius = np.hypot(hole.points[:, 1], hole.points[:, 2])
    assert radius == pytest.approx(4.5 / 2 + WALL_GAP)


def test_washer_lies_under_the_seat(record, screw, catalogue):
    washer = catalogue.washers[screw.washer]
    drawn = parts(screw_items(record(), screw, washer))["washer"]
    assert span(drawn, 0) == pytest.approx((-12.5, -12.5 + washer.thickness))
    assert np.ptp(drawn.points[:, 2]) == pytest.approx(washer.outer_diameter, rel=ROUND)


def test_marks_ring_entry_and_exit(record, screw):
    marks = {i.name: i.points for i in screw_items(record(), screw, None) if i.role == "mark"}
    for name, x in (("screw 1 entry", -13.0), ("screw 1 exit", 13.0)):
        assert marks[name][:, 0] == pytest.approx(x)
        radius = np.hypot(marks[name][:, 1], marks[name][:, 2])
        assert radius == pytest.approx(screw.thread_diameter / 2 + MARK_GAP)


def test_axis_reaches_beyond_head_and_tip(record, screw):
    axis = parts(screw_items(record(), screw, None))["axis"]
    top = -12.5 - screw.head_height
    assert axis.points[:, 0] == pytest.approx([top - AXIS_REACH, 15.5 + AXIS_REACH])
    assert axis.points[:, 1:] == pytest.approx(0.0)


def test_label_names_screw_kind_and_length(record, screw):
    label = parts(screw_items(record(), screw, None))["label"]
    assert label.label == "screw 1  HA4.5 \N{MULTIPLICATION SIGN} 28 mm"
    assert label.points[0] == pytest.approx([-12.5 - screw.head_height, 0, 0])


def test_an_axis_that_misses_the_bone_draws_nothing(record, screw):
    assert screw_items(record(entry=None, exit=None), screw, None) == []


def test_an_axis_without_a_length_draws_its_marks_alone(record, screw):
    items = screw_items(record(length=None, exit=None), screw, None)
    assert [item.name for item in items] == ["screw 1 entry"]
