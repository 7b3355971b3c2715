"""`reduce` as a user runs it: displaced fragments, put together, planned, and told."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from scripts import make_meshes  # noqa: F401 - puts the scripts on the path
from tests.reduced_cases import write_case
from trajplan.files import read_plan, read_reduction

MESHES = Path(__file__).parents[2] / "meshes"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demonstration, put together once."""
    from trajplan.cli import main

    out = tmp_path_factory.mktemp("reduced")
    status = main(["reduce", str(MESHES / "displaced.toml"), "--out", str(out)])
    return status, read_reduction(out / "reduction.json"), out


def apart(found, truth, points):
    """How far a movement takes points from where they belong, mm, and its turn, degrees."""
    error = np.array(found) @ truth
    moved = points @ error[:3, :3].T + error[:3, 3]
    turn = np.degrees(Rotation.from_matrix(error[:3, :3]).magnitude())
    return np.sqrt(np.mean(np.sum((moved - points) ** 2, axis=1))), turn


def test_the_demonstration_comes_together_as_it_was_made(demo):
    """Goals: 1 mm and 5 degrees at the fracture; its place is the middle of the shaft."""
    from mesh_displaced import PIECE_MOVE, UPPER_MOVE

    status, record, _ = demo
    assert status == 0
    assert record.trusted
    points = np.array([[x, y, z] for x in (-12, 12) for y in (-12, 12) for z in (95.0, 125.0)])
    for fragment, truth in zip(record.fragments[1:], (UPPER_MOVE, PIECE_MOVE), strict=True):
        off, turn = apart(fragment.matrix, truth, points)
        assert off < 1.0
        assert turn < 5.0


def test_a_fragment_moved_by_hand_follows_and_says_so(demo):
    """Without a window: moved off and back, snapped, undone."""
    from trajplan.planner import load_reduction
    from trajplan.show import Adjusting

    _, _, out = demo
    session = Adjusting(load_reduction(out / "reduction.json"))
    assert session.pick(0) is False  # the fixed one
    assert session.pick(2)
    closed = [np.nanmedian(gaps) for gaps in session.gaps()]
    start = session.poses
    session.keep()
    session.shift(np.array([2.0, 0.0, 0.0]))
    assert session.moved == (2,)
    gap = np.nanmedian(session.gaps()[2])
    assert gap > closed[2] + 0.5  # it gapes at once
    told = session.reduced()
    assert told.reduction.origins == ("found", "found", "hand")
    rules = {finding.rule: finding.verdict.word for finding in told.findings}
    assert rules["reduce_hand"] == "caution"
    assert np.allclose(told.poses[2].shift - start[2].shift, [2.0, 0.0, 0.0])
    session.snap()
    off, turn = apart(session.poses[2].matrix, start[2].back().matrix, session.centre()[None])
    assert off < 0.5
    assert turn < 2.0
    session.undo()
    session.undo()
    assert session.poses == start
    assert session.reduced() is session.opened
    session.redo()
    assert session.moved == (2,)
    session.keep()
    session.turn(session.axis, 90.0)
    before, after = session.opened.poses[2].rotation, session.poses[2].rotation
    assert np.degrees(Rotation.from_matrix(after @ before.T).magnitude()) == pytest.approx(90.0)
    assert not [f for f in session.reduced().findings if f.rule == "reduce_rival"]


def test_all_files_of_a_reduction_are_there_and_its_own(demo):
    _, record, out = demo
    names = {path.name for path in out.iterdir()}
    assert {"reduction.json", "case.toml", "reduction.png", "source.json", ".trajplan"} <= names
    assert {fragment.reduced for fragment in record.fragments} <= names
    assert record.cautions


def test_the_plan_on_it_fails_nothing_says_so_and_reaches_the_report(demo, run, folder):
    _, record, out = demo
    assert run("plan", out / "case.toml", "--out", "plan", "--no-picture").status == 0
    plan = read_plan("plan/plan.json")
    assert plan.reduction.digest == record.digest
    assert len(plan.screws) == 3
    assert all(screw.as_it_lies is not None for screw in plan.screws)
    assert run("report", "plan/plan.json", "--out", "page.html").status == 0
    page = (folder / "page.html").read_text()
    assert "How the fragments lay" in page
    assert 'data-act="reduce"' in page
    model = json.loads(page.partition('id="turntable-model">')[2].partition("</script>")[0])
    paths = {mesh["layer"]: mesh["path"] for mesh in model["meshes"] if mesh["path"]}
    assert len(paths) == 3
    turned = sorted(round(np.degrees(path["angle"])) for path in paths.values())
    assert turned[0] == 0  # the fixed one
    assert turned[1:] == sorted(
        round(one.displacement.rotation) for one in record.fragments if one.displacement
    )
    steps = run("drill", "plan/plan.json", "--out", "steps.txt")
    assert steps.status == 0
    assert "In the image, before the reduction, the entry lies on" in " ".join(
        (folder / "steps.txt").read_text().split()
    )


def test_nothing_is_written_over_what_is_not_its_own(run, folder):
    write_case(folder)
    (folder / "out").mkdir()
    (folder / "out" / "reduction.json").write_text("mine")
    answer = run("reduce", "case.toml", "--out", "out")
    assert answer.status == 2
    assert "did not write" in answer.err
    assert (folder / "out" / "reduction.json").read_text() == "mine"


def test_a_wrong_case_is_one_line_and_leaves_no_file(run, folder):
    write_case(folder, table="[reduction]\nfixed = 7")
    answer = run("reduce", "case.toml", "--out", "out")
    assert answer.status == 2
    assert answer.err.count("\n") == 1
    assert "there is no fragment 7; give numbers from 1 to 2" in answer.err
    assert not (folder / "out").exists()
