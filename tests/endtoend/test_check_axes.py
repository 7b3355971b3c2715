"""Somebody else's axes: every row is answered, in order, wherever its points lie on the line."""

import csv
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from mesh_files import stl_bytes, write
from shaft_case import MESHES
from specimens import tube

from trajplan.cautions import CAUTIONS
from trajplan.files import AxesTable, plan_json, read_case, read_plan, write_axes
from trajplan.planner import _check_record, check_axes, check_record, plan_record
from trajplan.show import plan_text, why_lines

#: Measures of a screw that rest on its line alone.
MEASURES = ("intervals", "fracture_depth", "entry", "exit", "seat", "gauge", "length", "proud_tip",
            "gliding_hole", "thread_hole", "thread", "purchase", "tilt", "entry_angle")  # fmt: skip


def table(start, end, kind="HA4.5", ids=None):
    n = len(start)
    names = tuple(ids or (f"A{i + 1}" for i in range(n)))
    return AxesTable(names, (kind,) * n, ("lag",) * n, start, end, tuple(range(2, n + 2)))


@pytest.fixture
def check(run, folder):
    """Write axes, check them, and read the answer back."""

    def _check(start, end, case="case.toml", **words):
        write_axes(folder / "axes.csv", table(start, end, **words), "mm")
        answer = run("check", case, "axes.csv", "--out", "out")
        assert answer.err == ""
        checked = read_plan(folder / "out" / "check.json")
        assert answer.status == (1 if checked.verdict == "fail" else 0)
        return checked

    return _check


def numbers(screw):
    """Flatten all measures of a screw; a missing one is NaN."""
    data = screw.model_dump(include=set(MEASURES))

    def flat(value):
        if isinstance(value, dict):
            return [x for part in value.values() for x in flat(part)]
        if isinstance(value, tuple | list):
            return [x for part in value for x in flat(part)]
        return [np.nan if value is None else value]

    return np.array(flat([data[name] for name in MEASURES]), dtype=float)


def test_a_thousand_axes_are_answered_in_order(case, check, folder):
    rng = np.random.default_rng(1)
    aim = np.column_stack([rng.uniform(-25, 25, (1000, 2)), rng.uniform(20, 80, 1000)])
    way = rng.normal(size=(1000, 3)) * [1.0, 1.0, 0.3]
    way *= 80.0 / np.linalg.norm(way, axis=1)[:, None]
    ids = [f"row {i}" for i in rng.permutation(1000)]
    checked = check(aim - way, aim + way, ids=ids)
    assert [screw.id for screw in checked.screws] == ids
    # closed form: lines whose distance to the axis of the 64-gon of radius 14 tells hit from miss
    flat = way[:, :2] / np.linalg.norm(way[:, :2], axis=1)[:, None]
    distance = np.abs(aim[:, 0] * flat[:, 1] - aim[:, 1] * flat[:, 0])
    hit = np.array([bool(screw.intervals) for screw in checked.screws])
    inside = np.abs(aim[:, 2] - 50.0) + 80.0 * np.abs(way[:, 2]) / 80.0 < 50.0
    assert hit[inside & (distance < 14.0 * np.cos(np.pi / 64))].all()
    assert not hit[distance > 14.0].any()
    assert 300 < hit.sum() < 900
    for screw, met in zip(checked.screws, hit, strict=True):
        rules = [finding.rule for finding in screw.findings]
        assert ("meets_bone" in rules) != met
        assert (screw.entry is not None) == met
    (left_out,) = [f for f in checked.findings if f.rule == "screw_gap"]
    assert left_out.verdict == "unknown"  # pairs of a thousand axes: said, not passed over
    rows = list(csv.DictReader((folder / "out" / "check.csv").read_text().splitlines()))
    assert [row["id"] for row in rows] == ids
    assert [row["intervals"] != "" for row in rows] == hit.tolist()


def test_an_axis_that_misses_says_so_and_the_others_are_answered(case, check, run):
    checked = check(
        np.array([[-30.0, 0, 50], [-30, 200, 50], [0, -30, 60]]),
        np.array([[30.0, 0, 50], [30, 200, 50], [0, 30, 60]]),
    )
    first, missing, last = checked.screws
    assert (missing.entry, missing.exit, missing.gauge, missing.length) == (None,) * 4
    assert missing.intervals == ()
    (finding,) = [f for f in missing.findings if f.verdict == "fail"]
    assert finding.rule == "meets_bone"
    assert "misses the bone" in finding.why
    assert not any(f.verdict == "pass" for f in missing.findings)
    # closed form: walls of 5 mm and a canal of 18 mm, at a corner of the 64-gon
    for screw in (first, last):
        assert np.ravel(screw.intervals) == pytest.approx([0, 5, 23, 28], abs=1e-5)
    assert checked.cautions[: len(CAUTIONS)] == CAUTIONS


@pytest.mark.parametrize("shift", [(-200.0, -190.0), (-1.0, 1.0), (5.0, 6.0), (300.0, 900.0)])
def test_the_points_may_lie_anywhere_on_the_line(case, check, shift):
    rng = np.random.default_rng(2)
    aim = np.column_stack([rng.uniform(-3, 3, (5, 2)), rng.uniform(40, 60, 5)])
    way = np.column_stack([rng.normal(size=(5, 2)), rng.normal(0.0, 0.2, 5)])
    way /= np.linalg.norm(way, axis=1)[:, None]
    usual, moved = (check(aim + a * way, aim + b * way) for a, b in ((-60.0, 60.0), shift))
    assert all(screw.intervals for screw in usual.screws)
    for one, other in zip(usual.screws, moved.screws, strict=True):
        assert numbers(other) == pytest.approx(numbers(one), abs=1e-5, nan_ok=True)


def test_the_axes_of_a_plan_give_the_depths_of_the_plan(run, check, folder):
    case = MESHES / "shaft.toml"
    assert run("plan", case, "--no-picture", "--out", "out").status == 0
    plan = read_plan(folder / "out" / "plan.json")
    ends = (np.array([getattr(s, name) for s in plan.screws]) for name in ("entry", "exit"))
    checked = check(*ends, case=case, ids=[screw.id for screw in plan.screws])
    for one, other in zip(plan.screws, checked.screws, strict=True):
        # the plan file rounds its points to 1e-6 mm, over a screw of some 30 mm
        assert numbers(other) == pytest.approx(numbers(one), abs=1e-4)
        assert [f.verdict for f in other.findings] == [f.verdict for f in one.findings]
    # lines that others drew are judged, and nothing is offered in their place
    judged = [f for f in plan.findings if f.rule != "plate_offered"]
    assert len(judged) == len(plan.findings) - 1
    assert [f.verdict for f in checked.findings] == [f.verdict for f in judged]


def test_axes_in_the_unit_of_the_case(case, check, run, edit, folder):
    start, end = np.array([[-30.0, 1, 50]]), np.array([[30.0, 2, 58]])
    usual = check(start, end)
    vertices, faces = tube()
    write(folder / "bone.stl", stl_bytes((vertices / 10.0, faces)))
    edit('"mm"', '"cm"')
    edit("[0, 0, 50]", "[0, 0, 5]")
    write_axes(folder / "cm.csv", table(start, end), "cm")
    run("check", "case.toml", "cm.csv", "--out", "cm")
    in_cm = read_plan(folder / "cm" / "check.json")
    # the STL holds float32: 1e-6 of 100 mm
    assert numbers(in_cm.screws[0]) == pytest.approx(numbers(usual.screws[0]), abs=1e-4)


def test_each_row_has_its_own_screw_and_technique(run, case, folder):
    (folder / "axes.csv").write_text(
        "to_x,to_y,to_z,x,y,z,technique,kind,id\n"
        "15,0,76,-15,0,24,lag,ha 3.5,first\n15,0,76,-15,0,24,position,HA4.5,second\n"
    )
    answer = run("check", "case.toml", "axes.csv", "--json", "--out", "out")
    first, second = answer.json["screws"]
    assert (first["kind"], first["technique"]) == ("HA3.5", "lag")
    assert (second["kind"], second["technique"]) == ("HA4.5", "position")
    assert first["gliding_hole"]["diameter"] == 3.5
    assert second["gliding_hole"] is None
    verdict = {f["rule"]: f["verdict"] for f in second["findings"]}
    assert verdict["closes_gap"] == "note"  # a position screw does not close the gap
    assert answer.status == 1  # two screws in one line meet
    assert "fail" in [f["verdict"] for f in answer.json["findings"] if f["rule"] == "screw_gap"]


def lines_through(count, seed=1):
    """Lines that meet the tube of the case, or miss it."""
    rng = np.random.default_rng(seed)
    aim = np.column_stack([rng.uniform(-20, 20, (count, 2)), rng.uniform(20, 80, count)])
    way = rng.normal(size=(count, 3)) * [1.0, 1.0, 0.3]
    way *= 80.0 / np.linalg.norm(way, axis=1)[:, None]
    return aim - way, aim + way


def test_blocks_give_what_the_whole_table_gives(case, monkeypatch):
    axes = table(*lines_through(30))
    axes = replace(axes, kinds=("HA4.5",) * 20 + ("HA3.5",) * 10)
    known = read_case(case)
    monkeypatch.setattr(_check_record, "BLOCK", 7)
    blocks, whole = check_record(known, axes), plan_record(check_axes(known, axes))
    assert len(blocks.screws) == 30
    assert tuple(blocks.screws) == whole.screws
    same = {"created": whole.created, "screws": whole.screws}
    assert blocks.model_copy(update=same) == whole
    assert plan_json(blocks.model_copy(update={"created": whole.created})) == plan_json(whole)
    assert plan_text(blocks) == plan_text(whole)
    assert list(why_lines(blocks)) == list(why_lines(whole))


MEASURED = """
import sys
from trajplan.cli import main
from trajplan.planner import _check_record
_check_record.BLOCK = 50  # so that what a block takes does not hide what rows take
words = ["check", "case.toml", sys.argv[1], "--why", "--out", sys.argv[1] + "-out"]
assert main(words) in (0, 1)
# not getrusage(2): a child begins there with what its parent had taken
print(open("/proc/self/status").read().partition("VmHWM:")[2].split()[0])
"""


def test_a_long_table_takes_no_more_memory_than_a_short_one(case, folder):
    held = {}
    for count in (100, 800):
        write_axes(folder / f"{count}.csv", table(*lines_through(count)), "mm")
        done = subprocess.run(
            [sys.executable, "-c", MEASURED, f"{count}.csv"],
            capture_output=True, text=True, check=True, timeout=600,
        )  # fmt: skip
        held[count] = int(done.stdout.splitlines()[-1])  # proc(5): kibibytes
    # A row's record takes 18 KiB, and the arrays that it was worked out with 0.5 MiB; what is
    # printed of it is one line of a table.
    assert (held[800] - held[100]) / 700 < 12
