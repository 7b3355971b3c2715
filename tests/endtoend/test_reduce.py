"""`reduce` as a user runs it: displaced fragments, put together, planned, and told."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from scripts import make_meshes  # noqa: F401 - puts the scripts on the path
from tests.reduced_cases import write_case
from tests.specimens import real_bone
from trajplan.bone import Rough, read_surface, split_bone
from trajplan.files import read_plan, read_reduction, write_stl
from trajplan.geometry import Plane

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
    rules = {finding.rule: finding.verdict for finding in record.findings}
    assert rules["reduce_step"] == rules["reduce_gap"] == "pass"  # nothing steps, nothing gapes
    assert all(fit.gap_mean < 0.1 for fit in record.pairs)  # 0.15 was lost along the shaft
    assert all(fit.gap_largest < 1.0 for fit in record.pairs)  # not into the next fragment


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
    assert session.snap()
    off, turn = apart(session.poses[2].matrix, start[2].back().matrix, session.centre()[None])
    assert off < 0.5
    assert turn < 2.0
    session.undo()
    session.undo()
    assert session.poses == start
    assert session.reduced() is session.opened
    session.redo()
    assert session.moved == (2,)
    session.shift(np.array([60.0, 0.0, 0.0]))
    far = session.poses
    assert not session.snap()  # nothing near to snap to, and nothing to take back
    assert session.poses == far
    session.shift(np.array([-60.0, 0.0, 0.0]))
    session.keep()
    session.turn(session.axis, 90.0)
    before, after = session.opened.poses[2].rotation, session.poses[2].rotation
    assert np.degrees(Rotation.from_matrix(after @ before.T).magnitude()) == pytest.approx(90.0)
    # what only a search can measure is said of the pair alone that nobody moved
    (rival,) = (f for f in session.reduced().findings if f.rule == "reduce_rival")
    assert "displaced_piece" not in rival.why


def test_all_files_of_a_reduction_are_there_and_its_own(demo):
    _, record, out = demo
    names = {path.name for path in out.iterdir()}
    assert {"reduction.json", "case.toml", "reduction.png", "source.json", ".trajplan"} <= names
    assert {fragment.reduced for fragment in record.fragments} <= names
    assert record.cautions


def _plays(chromium, page):
    """The animation of a report: where it ends, and what was seen on the way."""
    told = {}
    for wish in ("no-preference", "reduce"):
        tab = chromium.new_page(reduced_motion=wish)
        tab.goto(page.as_uri())
        canvas = tab.locator("canvas")
        tab.evaluate(
            """() => {
                const c = document.querySelector("canvas");
                window.seen = [];
                new MutationObserver(() => window.seen.push(Number(c.dataset.lying)))
                    .observe(c, { attributes: true, attributeFilter: ["data-lying"] });
                document.querySelector("[data-lie]").scrollIntoView();
            }"""
        )
        tab.get_by_role("button", name="play the reduction").click()
        last = "0" if wish == "no-preference" else "1"
        tab.wait_for_function(
            "([c, last]) => c.dataset.lying === last && window.seen.length > 0",
            arg=[canvas.element_handle(), last],
        )
        if wish == "reduce":  # where it lies at once; and back at once
            tab.get_by_role("button", name="play the reduction").click()
        tab.wait_for_timeout(100)
        told[wish] = tab.evaluate("window.seen")
        tab.close()
    return told


def test_the_plan_on_it_fails_nothing_says_so_and_reaches_the_report(demo, run, folder, chromium):
    _, record, out = demo
    assert run("plan", out / "case.toml", "--out", "plan", "--no-picture").status == 0
    plan = read_plan("plan/plan.json")
    assert plan.reduction.digest == record.digest
    assert len(plan.screws) == 3
    # pieces that fit cross each other by hundredths: no fault of the surface
    assert "surface_crossing" not in {finding.rule for finding in plan.findings}
    assert all(screw.as_it_lies is not None for screw in plan.screws)
    assert run("report", "plan/plan.json", "--out", "page.html").status == 0
    page = (folder / "page.html").read_text()
    assert "How the fragments lay" in page
    assert "gap on each broken surface" in page
    assert "The reduction is trusted, length not known" in page
    assert 'data-act="reduce"' in page
    model = json.loads(page.partition('id="turntable-model">')[2].partition("</script>")[0])
    paths = {mesh["layer"]: mesh["path"] for mesh in model["meshes"] if mesh["path"]}
    assert len(paths) == 3
    turned = sorted(round(np.degrees(path["angle"])) for path in paths.values())
    assert turned[0] == 0  # the fixed one
    assert turned[1:] == sorted(
        round(one.displacement.rotation) for one in record.fragments if one.displacement
    )
    seen = _plays(chromium, folder / "page.html")
    assert set(seen["reduce"]) == {1, 0}  # no moving pictures for those who ask for none
    moving = seen["no-preference"]
    assert (max(moving), moving[-1]) == (pytest.approx(1.0, abs=0.05), 0)
    assert any(0.1 < share < 0.9 for share in moving)
    steps = run("drill", "plan/plan.json", "--out", "steps.txt")
    assert steps.status == 0
    assert "In the image, before the reduction, the entry lies on" in " ".join(
        (folder / "steps.txt").read_text().split()
    )


FEMUR = """unit = "mm"
[bone]
fragments = ["first.stl", "{second}"]
cortex = 4.0
[fracture]
between = true
[reduction]
fixed = 1
[screws]
count = 2
kinds = ["HA4.5"]
candidates = 400
[placement]
draws = 0
"""


SIDE = """unit = "mm"
[bone]
fragments = ["oblique_lower.stl", "oblique_upper.stl"]
[fracture]
between = true
[reduction]
template = "other.stl"
mirror = true
[screws]
count = 1
kinds = ["HA3.5"]
"""


def test_a_displaced_femur_fails_is_put_together_and_plans_as_if_never_displaced(run, folder):
    """A real femur, broken by a rough oblique break; one half lies 15 mm off, turned by 20."""
    femur = read_surface(real_bone("r_femur.stl"), "m")
    shaft = np.array([-0.0974, 0.9901, 0.1012])
    plane = Plane.through(femur.vertices.mean(axis=0), shaft + np.array([0.9, 0.0, 0.0]))
    first, second = split_bone(femur, Rough(plane, 1.0, 3)).pieces
    turn = Rotation.from_rotvec(np.radians(20.0) * shaft)
    truth = np.eye(4)
    truth[:3, :3] = turn.as_matrix()
    truth[:3, 3] = plane.point - truth[:3, :3] @ plane.point + np.array([6.0, -9.0, 5.0])
    lies = second.triangles() @ truth[:3, :3].T + truth[:3, 3]
    for name, triangles in (
        ("first.stl", first.triangles()),
        ("second.stl", second.triangles()),
        ("moved.stl", lies),
    ):
        write_stl(folder / name, triangles)
    (folder / "whole.toml").write_text(FEMUR.format(second="second.stl"))
    (folder / "lies.toml").write_text(FEMUR.format(second="moved.stl"))

    answer = run("plan", "lies.toml", "--out", "lies", "--no-picture", "--json")
    assert answer.status == 1
    wrong = {f["rule"]: f["why"] for f in answer.json["findings"] if f["verdict"] == "fail"}
    assert {"fragments_gap", "fragments_step", "fragments_turn"} <= set(wrong)
    assert all(
        "`trajplan reduce CASE --out DIR`" in why
        for rule, why in wrong.items()
        if rule.startswith("fragments_")
    )
    assert run("reduce", "lies.toml", "--out", "reduced", "--no-picture").status == 0
    (moved,) = (f for f in read_reduction("reduced/reduction.json").fragments if not f.fixed)
    assert moved.displacement.turn == pytest.approx(20.0, abs=2.0)
    off, turned = apart(moved.matrix, truth, plane.point + 15.0 * np.eye(3))
    assert off < 1.0
    assert turned < 3.0

    # the lines of the bone that was never displaced, on the one that was put together
    assert run("plan", "whole.toml", "--out", "whole", "--no-picture").status == 0
    assert run("plan", "reduced/case.toml", "--out", "again", "--no-picture").status == 0
    whole, again = read_plan("whole/plan.json"), read_plan("again/plan.json")
    assert len(again.screws) == len(whole.screws) == 2
    one, other = (np.array(plan.fracture.zones[0].normal) for plan in (whole, again))
    assert np.degrees(np.arccos(min(abs(one @ other), 1.0))) < turned + 1.0
    run("export", "whole/plan.json", "--axes", "axes.csv")
    checked = run("check", "reduced/case.toml", "axes.csv", "--out", "checked", "--json").json
    for planned, found in zip(whole.screws, checked["screws"], strict=True):
        assert found["gauge"] == pytest.approx(planned.gauge, abs=2.0 * off + 0.5)
        assert found["tilt"] == pytest.approx(planned.tilt, abs=turned + 2.0)
        assert "fail" not in {f["verdict"] for f in found["findings"]}


def test_the_other_side_as_a_template_settles_the_length(run, folder):
    """The demonstration's shaft, mirrored and lying elsewhere: as the other side would."""
    (folder / "case.toml").write_text(SIDE)
    for name in ("oblique_lower", "oblique_upper"):
        triangles = read_surface(MESHES / f"{name}.stl").triangles()
        if name == "oblique_upper":
            turn = Rotation.from_rotvec(np.radians([6.0, -4.0, 11.0]))
            points = turn.apply(triangles.reshape(-1, 3)) + np.array([5.0, -4.0, 9.0])
            triangles = points.reshape(-1, 3, 3)
        write_stl(folder / f"{name}.stl", triangles)
    other = (read_surface(MESHES / "shaft.stl").triangles() * [-1.0, 1.0, 1.0])[:, ::-1]
    write_stl(folder / "other.stl", other + np.array([90.0, 20.0, -7.0]))
    assert run("reduce", "case.toml", "--out", "out", "--no-picture").status == 0
    record = read_reduction("out/reduction.json")
    assert (record.template.name, record.template.mirror) == ("other.stl", True)
    assert record.template.misfit < 1.0
    (length,) = (f for f in record.findings if f.rule == "reduce_length")
    assert length.verdict == "pass"
    assert length.measured < 2.5  # the demonstration's fragments stand 2 mm apart where they belong


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
