"""A plan by hand in which everything is wrong: each fault is caught, and by its name."""

import csv

import pytest
from shaft_case import MESHES

from trajplan.files import read_plan

#: Split bone end; the smaller fragment lies at high x, the surgeon stands there.
AXES = """\
id,kind,technique,x,y,z,to_x,to_y,to_z
held apart,HB6.5,position,60,2,70,-60,2,64
across,HB6.5,lag,-60,-12,38,60,-12,38
meets 1,HB6.5,lag,60,-8,52,-60,8,52
meets 2,HB6.5,lag,60,8,52,-60,-8,52
into joint,HB6.5,lag,60,0,66,-25,5,84
sound,HB6.5,lag,60,1,66,-60,-1,46
"""


@pytest.fixture
def answer(run, folder):
    (folder / "axes.csv").write_text(AXES)
    done = run("check", MESHES / "end.toml", "axes.csv", "--out", "out")
    assert (done.status, done.err) == (1, "")
    return done, read_plan(folder / "out" / "check.json")


def found(findings, rule):
    return {finding.subject: finding for finding in findings if finding.rule == rule}


def of_screws(checked, rule):
    every = [finding for screw in checked.screws for finding in screw.findings]
    return found(every, rule)


def test_each_fault_of_a_bad_plan_is_caught_by_name(answer):
    _, checked = answer
    assert checked.verdict == "fail"
    # a position screw where a lag screw was meant
    assert set(of_screws(checked, "closes_gap")) == {"held apart"}
    held = of_screws(checked, "closes_gap")["held apart"]
    assert held.verdict == "note"  # it was asked for
    assert "will not close the gap" in held.why
    # a thread on both sides of the fracture
    across = of_screws(checked, "thread_across")
    assert across["across"].verdict == "fail"
    assert across["sound"].verdict == "pass"
    assert "bites both fragments" in across["across"].why
    assert across["across"].measured < 0.0
    assert of_screws(checked, "near_thread")["across"].verdict == "fail"
    # two screws that meet inside the bone: they cross at x = 0
    gaps = found(checked.findings, "screw_gap")
    assert "meets 1 + meets 2" in [name for name, f in gaps.items() if f.verdict == "fail"]
    assert gaps["meets 1 + meets 2"].measured <= 0.0
    # a tip in the joint
    joint = of_screws(checked, "joint_clearance")
    assert [name for name, f in joint.items() if f.verdict == "fail"] == ["into joint"]


def test_the_sound_screw_beside_them_is_not_blamed(answer):
    _, checked = answer
    (sound,) = [screw for screw in checked.screws if screw.id == "sound"]
    assert [finding.rule for finding in sound.findings if finding.verdict == "fail"] == []


def test_print_and_table_name_the_faults_too(answer, folder):
    done, _ = answer
    for words in ("closes_gap", "thread_across", "meets 1 + meets 2", "joint_clearance"):
        assert words in done.out, words
    table = (folder / "out" / "check.csv").read_text()
    rows = {row["id"]: row for row in csv.DictReader(table.splitlines())}
    assert "thread_across" in rows["across"]["fail"].split()
    assert "joint_clearance" in rows["into joint"]["fail"].split()
    assert "closes_gap" in rows["held apart"]["note"].split()
    assert rows["sound"]["verdict"] != "fail"
    # what strips a thread, as a range; nothing of it where no thread holds is a blank, not a 0
    low, high = (float(rows["sound"][f"stripping_torque_{end}"]) for end in ("low", "high"))
    assert 0.0 < low < high
