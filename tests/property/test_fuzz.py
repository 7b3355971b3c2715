"""Broken input of all kinds: an answer or one clear line; never a crash, hang or silent pass."""

import json
from pathlib import Path

import numpy as np
import pytest

from scripts import fuzz

#: What makes these sixty again.
SEED = 7


@pytest.fixture(scope="module", autouse=True)
def _warm():
    fuzz.warm_up()


@pytest.mark.parametrize("start", range(0, 60, 10))
def test_every_answer_is_clear(start):
    for number in range(start, start + 10):
        item, answer = fuzz.run_one(number, SEED)
        assert not answer.fault, (number, item.mutation, item.words[0], answer)


def test_items_are_made_again():
    for number in (3, 4):
        a, b = (fuzz.run_one(number, SEED) for _ in range(2))
        assert (a[0].mutation, a[0].words[0], a[1].outcome) == (
            b[0].mutation, b[0].words[0], b[1].outcome,
        )  # fmt: skip


# --- the judge itself -----------------------------------------------------------------


@pytest.fixture
def item(tmp_path):
    """An item that plans on a bone that is not broken."""
    (tmp_path / "bone.stl").write_bytes(fuzz.encoded(fuzz.shaft(), "stl", np.random.default_rng(0)))
    return fuzz.Item("none", ["plan"], tmp_path / "bone.stl")


def judged(item, monkeypatch, program):
    monkeypatch.setattr(fuzz, "trajplan", program)
    return fuzz.run_item(item, item.bone.parent)


def says(line, status, end="\n"):
    def program(_words):
        import sys

        print(line, file=sys.stderr, end=end)
        return status

    return program


def breaks(_words):
    raise RuntimeError("a bug")


def hangs(_words):
    while True:
        pass


def writes(plan, status=0):
    def program(words):
        out = Path(plan.pop("folder")) / "out"
        out.mkdir()
        (out / f"{words[0]}.json").write_text(json.dumps(plan))
        return status

    return program


@pytest.mark.parametrize(
    ("program", "outcome", "fault"),
    [
        (says("trajplan: bone.stl: it is broken; mend it", 2), "status 2", ""),
        (says("it is broken", 2), "status 2", "no clear line"),
        (says("trajplan: it is broken", 2), "status 2", "no clear line"),
        (says("trajplan: two\nlines; mend", 2), "status 2", "no clear line"),
        (says("trajplan: the program broke", 3), "status 3", "the program broke"),
        (breaks, "crash", "RuntimeError: a bug"),
    ],
)
def test_judge_of_status_and_words(item, monkeypatch, program, outcome, fault):
    answer = judged(item, monkeypatch, program)
    assert answer.outcome == outcome
    assert fault in answer.fault
    assert bool(answer.fault) is bool(fault)


def test_judge_of_a_hang(item, monkeypatch):
    monkeypatch.setattr(fuzz, "PATIENCE", 1)
    assert judged(item, monkeypatch, hangs).outcome == "hang"


def plan_of(item, verdict="pass", cautions=(), screws=()):
    bone = {"role": "bone", "name": item.bone.name, "cautions": list(cautions)}
    return {
        "folder": str(item.bone.parent), "unit": "mm", "verdict": verdict, "meshes": [bone],
        "screws": list(screws),
    }  # fmt: skip


def test_judge_of_a_whole_plan(item, monkeypatch):
    assert judged(item, monkeypatch, writes(plan_of(item))).fault == ""


def test_judge_of_a_plan_on_an_open_bone(item, monkeypatch):
    vertices, faces = fuzz.shaft()
    item.bone.write_bytes(fuzz.encoded((vertices, faces[5:]), "stl", np.random.default_rng(0)))
    audit = fuzz.make_bone(fuzz.read_surface(item.bone)).audit
    assert "keeps this to itself: 7 open" in judged(item, monkeypatch, writes(plan_of(item))).fault
    (item.bone.parent / "out" / "plan.json").unlink()
    (item.bone.parent / "out").rmdir()
    told = plan_of(item, cautions=audit.cautions)
    assert "passes on a surface" in judged(item, monkeypatch, writes(told)).fault


def test_judge_of_a_screw_in_doubt(item, monkeypatch):
    screw = {"id": "screw 1", "unknown_intervals": [[0.0, 5.0]], "findings": []}
    screw["findings"] = [{"rule": "inside_known", "verdict": "pass"}]
    plan = plan_of(item, "caution", screws=[screw])
    assert "screw 1 passes every rule" in judged(item, monkeypatch, writes(plan)).fault


def test_judge_of_files_beside_a_refusal(item, monkeypatch):
    def both(_words):
        (item.bone.parent / "out").mkdir()
        return says("trajplan: it is broken; mend it", 2)(_words)

    assert "files were written" in judged(item, monkeypatch, both).fault
