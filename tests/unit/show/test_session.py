"""A session is a plan that moves: its numbers are those of a fresh check, and undo is exact."""

import json

import numpy as np
import pytest
from edited_plans import AIM, MESH, axes, few_draws, record_of, session_of

from trajplan.errors import OutputError
from trajplan.files import read_plan, write_plan


@pytest.fixture
def session():
    return few_draws()


def bytes_of(session, folder):
    path = folder / "now.json"
    write_plan(path, session.record)
    return path.read_bytes()


def bare(record):
    """A record without what a check of axes does not know of: when, and that a hand moved it."""
    data = json.loads(record.model_dump_json())
    for name in ("created", "assumptions", "cautions", "digest"):
        del data[name]
    return data


def test_opened_it_is_the_plan_to_the_letter(session, tmp_path):
    before = bytes_of(session, tmp_path)
    assert not session.edited
    assert json.loads(before)["screws"][0]["score"] == 0.8
    assert session.state.pressing.known
    session.save(tmp_path / "same.json")
    assert (tmp_path / "same.json").read_bytes() == before


def test_a_drag_gives_the_numbers_of_a_fresh_check(session):
    before = session.screw
    session.grab()
    for step in np.linspace(0.1, 1.0, 7):
        session.drag(step * np.array([0.0, 2.0, 3.0]))
    session.release()
    assert session.screw.tilt != pytest.approx(before.tilt, abs=0.5)
    live = bare(session.record)
    session.complete()
    fresh = bare(record_of(session.state.table, session.setup.case))
    assert bare(session.record) == fresh
    for screw in (*live["screws"], *fresh["screws"]):  # while it moves, placement is left out
        screw["forgiving"], screw["placement"] = None, None
    fresh["placement"] = None
    fresh["findings"] = [found for found in fresh["findings"] if found["rule"] != "by_hand"]
    live["verdict"] = fresh["verdict"]  # which what was left out may make worse
    assert live == fresh


def test_what_a_drag_moves_is_what_is_held(session):
    entry, target = session.ends
    by = np.array([0.0, 0.0, 2.0])
    for hold, moved in (("entry", (1, 0)), ("target", (0, 1)), ("both", (1, 1))):
        session.hold(hold)
        session.drag(by)
        table = session.state.table
        assert table.start[0] == pytest.approx(entry + moved[0] * by)
        assert table.end[0] == pytest.approx(target + moved[1] * by)
        assert np.array_equal(table.start[1], session._history.first.table.start[1])
        session.undo()


def test_the_other_screw_stays_and_the_pair_is_judged_again(session):
    session.hold("both")
    session.pick(1)
    session.drag(np.array([0.0, -3.0, -16.0]))  # onto the first
    first, second = session.record.screws
    assert first.entry == session._history.first.record.screws[0].entry
    assert second.entry != session._history.first.record.screws[1].entry
    gap = next(f for f in session.record.findings if f.rule == "screw_gap")
    assert gap.verdict == "fail"
    assert session.record.verdict == "fail"


def test_undo_restores_byte_for_byte_and_redo_does_again(session, tmp_path):
    states = [bytes_of(session, tmp_path)]
    for by in ([0.0, 1.0, 0.0], [0.0, 0.0, -2.0]):
        session.drag(np.array(by))
        states.append(bytes_of(session, tmp_path))
    assert len(set(states)) == 3
    session.undo()
    assert bytes_of(session, tmp_path) == states[1]
    session.undo()
    assert bytes_of(session, tmp_path) == states[0]
    assert not session.can_undo
    session.undo()  # nothing left: nothing happens
    assert bytes_of(session, tmp_path) == states[0]
    session.redo()
    session.redo()
    assert bytes_of(session, tmp_path) == states[2]
    assert not session.can_redo


def test_a_drag_of_many_steps_is_undone_as_one(session, tmp_path):
    before = bytes_of(session, tmp_path)
    session.grab()
    for step in range(1, 6):
        session.drag(np.array([0.0, 0.3 * step, 0.0]))
        assert session.dragging
    session.release()
    assert not session.dragging
    session.undo()
    assert bytes_of(session, tmp_path) == before
    session.redo()
    assert session.state.table.end[0][1] - session._history.first.record.screws[0].exit[
        1
    ] == pytest.approx(1.5)


def test_a_grab_without_a_move_is_no_step(session):
    session.grab()
    session.release()
    assert not session.can_undo
    assert not session.edited


def test_a_move_after_undo_drops_what_was_taken_back(session):
    session.drag(np.array([0.0, 1.0, 0.0]))
    session.undo()
    session.drag(np.array([0.0, -1.0, 0.0]))
    assert not session.can_redo


def test_reset_is_the_plan_opened_and_can_itself_be_undone(session, tmp_path):
    before = bytes_of(session, tmp_path)
    session.drag(np.array([0.0, 1.0, 0.0]))
    moved = bytes_of(session, tmp_path)
    session.reset()
    assert bytes_of(session, tmp_path) == before
    assert not session.edited
    session.undo()
    assert bytes_of(session, tmp_path) == moved


def test_saved_it_is_a_complete_plan_that_says_who_moved_it(session, tmp_path):
    session.pick(1)
    session.drag(np.array([0.0, 1.0, 0.0]))
    assert session.screw.forgiving is None
    assert any("not worked out" in caution for caution in session.record.cautions)
    session.save(tmp_path / "new.json")
    saved = read_plan(tmp_path / "new.json")
    assert [screw.score for screw in saved.screws] == [None, None]
    (note,) = [line for line in saved.assumptions if "by hand" in line]
    assert "the axes of screw 2 were moved" in note
    assert "screw 1" not in note
    assert saved.screws[1].forgiving is not None
    assert not any("not worked out" in caution for caution in saved.cautions)
    assert saved == session.record


def test_a_file_that_is_there_is_not_overwritten(session, tmp_path):
    path = tmp_path / "plan.json"
    path.write_text("mine")
    with pytest.raises(OutputError, match="already"):
        session.save(path)
    assert path.read_text() == "mine"


def test_saved_and_opened_again_nothing_changes(session, tmp_path):
    from trajplan.show import Session

    session.drag(np.array([0.0, 1.0, 0.0]))
    session.save(tmp_path / "new.json")
    again = Session(session.setup, read_plan(tmp_path / "new.json"))
    assert again.record == session.record
    assert again.ends[1] == pytest.approx(session.ends[1])


def test_an_axis_that_misses_the_bone_can_be_brought_back(session):
    session.hold("both")
    session.drag(np.array([0.0, 60.0, 0.0]))
    assert session.screw.entry is None
    assert session.record.verdict == "fail"
    start, end = session.ends
    assert end - start == pytest.approx(session.state.table.end[0] - session.state.table.start[0])
    session.drag(np.array([0.0, -60.0, 0.0]))
    assert session.screw.entry is not None


def test_two_ends_on_one_spot_are_no_axis(session):
    entry, target = session.ends
    session.drag(entry - target)
    assert not session.edited
    session.drag(entry - target + 3.0 * AIM)
    assert session.edited


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_move_to_nowhere_is_refused(session, bad):
    from trajplan.errors import DegenerateError

    with pytest.raises(DegenerateError):
        session.drag(np.array([bad, 0.0, 0.0]))
    assert not session.edited


def test_screws_that_are_not_there_are_not_picked(session):
    session.pick(1)
    for row in (-1, 2, 99):
        session.pick(row)
        assert session.screw.id == "screw 2"


def test_what_cannot_be_edited_is_left_out_and_said(tmp_path):
    table = axes(points=((0.0, 0.0, 42.0), (0.0, 90.0, 50.0)))  # the second misses
    session = session_of(table, placement={"draws": 0})
    assert [screw.id for screw in session.record.screws] == ["screw 1", "screw 2"]
    assert session.state.table.ids == ("screw 1",)
    session.drag(np.array([0.0, 1.0, 0.0]))
    assert [screw.id for screw in session.record.screws] == ["screw 1"]
    assert any("misses the bone: screw 2" in line for line in session.record.assumptions)


def test_a_plan_without_screws_can_be_looked_at():
    session = session_of(axes(points=((0.0, 90.0, 50.0),)), placement={"draws": 0})
    assert session.screw is None
    assert session.ends is None
    session.drag(np.ones(3))
    session.cut()
    session.turn(5.0)
    session.pick(0)
    assert not session.edited
    assert session.looking.cut is None


def test_wires_stay_and_are_judged_against_the_screws_as_they_are():
    from builders import case_of

    from trajplan.planner import plan_case, plan_record
    from trajplan.show import Session

    case = case_of(wires={"count": 1}, placement={"draws": 0})
    plan = plan_case(case, bone=MESH)
    session = Session(plan.setup, plan_record(plan))
    (wire,) = session.record.wires
    assert all(f.verdict != "fail" for f in wire.findings)
    session.hold("both")
    middle = (np.array(wire.entry) + wire.exit) / 2.0
    session.place(middle - 20 * np.array(wire.direction), middle + 20 * np.array(wire.direction))
    (kept,) = session.record.wires
    assert (kept.id, kept.entry) == (wire.id, wire.entry)
    assert kept.exit == pytest.approx(wire.exit, abs=1e-5)
    assert next(f for f in kept.findings if f.rule == "wire_clear").verdict == "fail"
    assert session.record.verdict == "fail"


# looking


def test_the_cut_turns_about_the_axis_and_comes_round(session):
    session.turn(5.0)
    assert session.looking.cut is None  # nothing is cut yet
    session.cut()
    assert (session.looking.cut, session.looking.sight) == (0.0, "cut")
    for _ in range(71):
        session.turn(5.0)
    assert session.looking.cut == pytest.approx(355.0)
    session.turn(10.0)
    assert session.looking.cut == pytest.approx(5.0)
    session.turn(-10.0)
    assert session.looking.cut == pytest.approx(355.0)
    session.cut()
    assert (session.looking.cut, session.looking.sight) == (None, "side")


def test_looking_is_no_edit_and_not_undone(session, tmp_path):
    before = bytes_of(session, tmp_path)
    session.look("down")
    session.hold("both")
    session.show_distances()
    session.cut()
    session.go(3)
    session.undo()
    assert session.looking.distances
    assert session.looking.hold == "both"
    assert bytes_of(session, tmp_path) == before


def test_steps_follow_the_drill_sheet_and_pick_their_screw(session):
    from trajplan.show import drill_sheet

    sheet = drill_sheet(session.record, session.setup.catalogue)
    numbers = [step.step.number for step in session.steps]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) == len(sheet.before) + len(sheet.after) + sum(
        len(screw.steps) for screw in sheet.screws
    )
    seen = []
    assert session.step is None
    for _ in numbers:
        session.go(1)
        if session.step.screw is not None:
            assert session.screw.id == session.step.screw
            seen.append(session.step.screw)
    assert list(dict.fromkeys(seen)) == ["screw 1", "screw 2"]
    session.go(1)  # past the end: the last step stays
    assert session.step.step.number == numbers[-1]
    session.go(-100)
    assert session.step is None


def test_steps_are_those_of_the_plan_as_it_stands(session):
    def hole():
        return next(s.step.text for s in session.steps if s.step.action == "Gliding hole")

    before = hole()
    session.drag(np.array([0.0, 0.0, 4.0]))
    assert f"to {session.screw.gliding_hole.end:.1f} mm" in hole()
    assert hole() != before
