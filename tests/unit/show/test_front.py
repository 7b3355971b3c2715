"""The first page of a report, and the cross and names over its pictures."""

from itertools import combinations

import numpy as np
import pytest
from text_boxes import cut_off, overlaps, text_boxes

from trajplan.files import FindingRecord
from trajplan.geometry import anatomy_directions
from trajplan.show._items.item import line
from trajplan.show._picture.first import first_page, fitting
from trajplan.show._picture.front import SIZE, front
from trajplan.show._picture.sight import Sight
from trajplan.show._picture.vtk import quiet
from trajplan.show._report.front import LINES, front_of
from trajplan.show._report.overlay import marks_of
from trajplan.show._words.cross import Box, lay_cross


def finding(verdict, rule="tilt", why="Because it is so.", subject="plan"):
    return FindingRecord(
        rule=rule, subject=subject, verdict=verdict, unit="", why=why, source="common practice"
    )


def test_decisions_stand_by_weight_and_notes_are_counted(plan, record):
    told = [
        finding(v, f"rule {i}")
        for i, v in enumerate(("note", "unknown", "pass", "fail", "caution"))
    ]
    page = first_page(plan(record(), findings=told, verdict="fail"))
    assert [f.verdict for f in page.decisions] == ["fail", "caution", "unknown"]
    assert (page.notes, page.passed) == (1, 1)


def test_the_drill_table_holds_the_numbers_of_the_plan(plan, record):
    one = record()
    (row,) = first_page(plan(one)).rows
    assert row[:2] == ("screw 1", one.size)
    assert row[2] == f"{one.gliding_hole.diameter:g} to {one.gliding_hole.end:.1f}"
    assert row[5] == f"{one.gauge:.1f}"
    blind = record(hold="unicortical")
    assert first_page(plan(blind)).rows[0][5] == "blind hole"
    missed = record(entry=None, exit=None, length=None)
    assert first_page(plan(missed)).rows[0][1].endswith("no length")


def test_words_of_the_first_page_stay_in_their_panes(plan, record, monkeypatch, off_screen):
    """Long names: two plates, partial threads, washers; every column keeps its right edge.

    Nothing is drawn but words, and no view is written into, so a name there is a heading in it.
    """
    looks = [Sight(f"along the surgeon's line of sight, from {side}", *np.eye(3)[:2])
             for side in ("R (medial)", "P")]  # fmt: skip
    monkeypatch.setattr("trajplan.show._picture.front.sights", lambda *_: looks)
    monkeypatch.setattr("trajplan.show._picture.front._view", lambda *_: None)
    hole = {"diameter": 4.5, "from": 0.0, "to": 114.9}
    sizes = {"washer": "13.0", "thread_length": 32.0, "length": 120.0, "kind": "HB6.5"}
    long = [
        record(
            f"plate {i % 2 + 1} hole {i + 6}",
            **sizes,
            gauge=118.5,
            gliding_hole=hole,
            thread_hole=hole,
            tap=hole,
            findings=(finding("unknown"),),
        )
        for i in range(6)
    ]
    made = plan(*long, verdict="unknown")
    with quiet():
        plotter = front(None, made, [])
        plotter.render()
        told = text_boxes(plotter)
        assert cut_off(plotter) == []
        assert overlaps(plotter) == []
        plotter.close()
    words = [text for _, text, _ in told]
    (more,) = (int(word.split()[2]) for word in words if word.startswith("... and"))
    assert 0 < words.count("unknown") == 6 - more
    bands = [pane.GetSize()[1] for pane, text, _ in told if "sight" in text]
    assert len(bands) == 2
    assert max(bands) < 0.05 * SIZE[1]  # apart from the views, which are half as high as the page


def test_never_more_than_fits_and_the_rest_is_counted(plan, record):
    many = [finding("caution", f"rule {i}", "word " * 60) for i in range(40)]
    front = front_of(plan(record(), findings=many, verdict="caution"), {"screw 1": "Here."})
    assert 0 < len(front.told) < 40
    assert len(front.told) + front.left == 40
    assert len(front.told) * 3 < LINES
    few = front_of(plan(record(), findings=many[:1]), {"screw 1": "Here."})
    assert (len(few.told), few.left, few.places) == (1, 0, (("screw 1", "Here."),))


@pytest.mark.parametrize(("room", "told"), [(0, 0), (1, 0), (2, 1), (3, 3)])
def test_a_line_is_kept_to_count_what_is_left(room, told):
    found = [finding("fail", str(i)) for i in range(3)]
    kept, left = fitting(found, room, lambda _: 1)
    assert (len(kept), left) == (told, 3 - told)


def turns(count, seed=0):
    rng = np.random.default_rng(seed)
    frames = [np.linalg.qr(rng.normal(size=(3, 3)))[0] for _ in range(count)]
    return [frame * np.sign(np.linalg.det(frame)) for frame in frames]


@pytest.mark.parametrize("frame", ["LPS", "RAS", "ASR", "LPH"])
def test_words_of_a_cross_keep_apart_and_lie_where_they_point(frame):
    told = [(f"{letter} proximal", way) for letter, way in anatomy_directions(frame).items()]
    for axes in turns(200):
        cross = lay_cross(told, axes, 60.0, 27.0, lambda text: 17.0 * len(text))
        boxes = [arm.box for arm in cross.arms] + ([cross.place] if cross.towards else [])
        assert not [pair for pair in combinations(boxes, 2) if pair[0].meets(pair[1])]
        assert 2 <= len(cross.arms) <= 6
        for arm in cross.arms:
            seen = axes @ anatomy_directions(frame)[arm.word[0]]
            assert 60.0 * seen[:2] == pytest.approx([arm.x, arm.y])
            assert arm.away == (seen[2] < -0.05)
            assert np.array([arm.word_x, arm.word_y]) @ seen[:2] > 0.0


def test_what_points_at_the_reader_is_written_and_has_no_arm():
    told = list(anatomy_directions("LPS").items())
    cross = lay_cross(told, np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]]), 60, 27, len)
    assert cross.towards == "towards you: A"
    assert {arm.word for arm in cross.arms} == {"L", "R", "S", "I"}


@pytest.mark.parametrize("count", [2, 9])
def test_names_of_crowded_heads_keep_apart(count):
    points = np.array([[0, 0, 0], [1, 0, 0]])
    items = [line(f"{i}", "label", points, f"plate 1 hole {i}  HA4.5") for i in range(count)]
    places = [np.array([[500.0, 380.0 + 5 * i], [560.0, 380.0 + 5 * i]]) for i in range(count)]
    marks = list(marks_of(items, places, (1000, 750), 36, [], prefix="plate 1 "))
    assert [mark.text for mark in marks] == [f"hole {i}" for i in range(count)]
    assert not [1 for one, two in combinations(marks, 2) if one.box.meets(two.box)]
    assert all(
        mark.box.left >= 0 and mark.box.right <= 1000 and mark.box.high <= 750 for mark in marks
    )
    led = sorted(mark.lead[3] for mark in marks)  # each is led to its own head
    assert led == pytest.approx([380.0 + 5 * i for i in range(count)])


#: Holes of a plate that is seen from above, as on the first page, and from its edge.
ABOVE = np.array([[500.0 + 4.0 * i, 350.0 + 45.0 * i] for i in range(6)])
LEVEL = np.array([[180.0 + 70.0 * i, 400.0] for i in range(6)])


@pytest.mark.parametrize("holes", [ABOVE, LEVEL])
def test_no_name_of_a_hole_stands_on_another_hole(holes):
    """Holes 1 to 4 hold heads, 5 and 6 are empty: each name leads to its own, over no other."""
    uses = ["label"] * 4 + ["number"] * 2
    told = [f"hole {i}" for i in range(1, 5)] + ["5 empty", "6 empty"]
    items = [line(word, use, np.zeros((2, 3)), word) for word, use in zip(told, uses, strict=True)]
    over, aside = np.array([[0.0, -40.0], [3.0, 9.0]])  # a number stands over the plate
    places = [
        np.stack([hole + over, hole] if use == "number" else [hole, hole + aside])
        for hole, use in zip(holes, uses, strict=True)
    ]
    heads = [Box(x - 18, y - 18, x + 18, y + 18) for x, y in holes[:4].tolist()]
    marks = {mark.text: mark for mark in marks_of(items, places, (1000, 750), 36, [], heads)}
    assert list(marks) == told
    for number, (word, hole) in enumerate(zip(told, holes, strict=True)):
        mark = marks[word]
        assert mark.lead[2:] == pytest.approx(tuple(hole))
        way = np.linspace(mark.lead[:2], mark.lead[2:], 300)
        away = np.linalg.norm(way[:, None] - np.delete(holes, number, axis=0), axis=2)
        assert away.min() > 15.0
        off = np.clip(holes, (mark.box.left, mark.box.low), (mark.box.right, mark.box.high)) - holes
        assert np.linalg.norm(off, axis=1).min() > 15.0


def test_a_name_that_finds_no_free_place_is_left_out():
    places = [np.array([[500.0, 400.0], [560.0, 400.0]])]
    items = [line("a", "label", np.zeros((2, 3)), "hole 1")]
    full = [Box(0.0, 0.0, 1000.0, 750.0)]
    assert list(marks_of(items, places, (1000, 750), 36, full)) == []


def test_a_name_beside_the_picture_is_left_out():
    items = [line("a", "label", np.zeros((2, 3)), "a"), line("b", "number", np.zeros((2, 3)), "b")]
    places = [np.array([[x, 100.0], [x, 200.0]]) for x in (-5.0, 500.0)]
    assert [mark.text for mark in marks_of(items, places, (1000, 750), 36, [])] == ["b"]
