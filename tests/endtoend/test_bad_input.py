"""Wrong input: status 2, one line that names the file and the remedy, and nothing written."""

import json
import math
import sys

import numpy as np
import pytest
from mesh_files import obj_text, stl_bytes, write
from shaft_case import PLANE, write_case
from specimens import tube

BONE = stl_bytes(tube())
HEADER = "id,kind,technique,x,y,z,to_x,to_y,to_z\n"
ROW = "A,HA4.5,lag,-30,0,50,30,0,50\n"
NERVE = '[[avoid]]\nname = "nerve"\nmesh = "bone.stl"\nclearance = {}\n[screws]'


def bone_at(number):
    """The bone as it should be, but for one number."""
    vertices, faces = tube()
    vertices[7, 1] = number
    return stl_bytes((vertices, faces))


def bone_in(mm):
    """The bone in another unit."""
    vertices, faces = tube()
    return stl_bytes((vertices / mm, faces))


#: What a mesh file holds -> what must be said of it.
MESHES = {
    "missing": (None, "there is no such file; check"),
    "empty": (b"", "the file is empty; export"),
    "text renamed": (b"a letter, not a mesh\n" * 9, "text that is not STL, which"),
    "truncated": (BONE[:-40], "; export"),
    "too long": (BONE + b"\0" * 50, "; export"),
    "only a header": (BONE[:84], "; export"),
    "no faces": (stl_bytes((np.zeros((3, 3)), np.empty((0, 3), int))), "; export"),
    "not a number": (bone_at(math.nan), "is not a finite number; export the mesh"),
    "infinite": (bone_at(math.inf), "is not a finite number; export the mesh"),
    "in metres": (bone_in(1000.0), 'if the file holds "m" (100 mm), state unit = "m"'),
}

#: Old text of the case, new text -> what must be said of it.
CASES = {
    "unknown unit": ('"mm"', '"feet"', "unit: found 'feet'; give one of 'mm', 'cm', 'm'"),
    "unit left out": ('unit = "mm"', "", 'unit: the key is missing; add "unit"'),
    "metres said": ('"mm"', '"m"', 'if the file holds "mm" (100 mm), state unit = "mm"'),
    "unknown key": ("count", "cuont", 'is not known; write "count" if that was meant'),
    "text for a number": ("count = 2", 'count = "two"', "screws.count: found 'two'; give a whole"),
    "no TOML": ("count = 2", "count = ", "line 7: this is not TOML (Invalid value); mend"),
    "two sources": (PLANE, f'{PLANE}\ngroup = "x"', "both plane and group are given; give exactly"),
    "no source": (PLANE, "", "no source is given; give exactly one of plane"),
    "plane beside the bone": ("[0, 0, 50]", "[0, 0, 500]", "the plane misses the bone"),
    "zero normal": ("[0.5, 0, 0.8660254037844386]", "[0, 0, 0]", "no direction; give a vector"),
    "normal out of all bounds": ("0.5, 0, 0.8", "1e300, 0, 0.8", "give a number not above 1e+07"),
    "points on one line": (
        PLANE, "points = [[0, 0, 1], [0, 0, 2], [0, 0, 3]]", "lie on one line",
    ),
    "two points": (PLANE, "points = [[0, 0, 1], [0, 0, 2]]", "give at least 3"),
    "unknown screw": ("HA4.5", "HA4,5", 'of kind "HA4,5"; write "HA4.5"'),
    "screw like no other": ("HA4.5", "nail", "name one that is there; known are HA1.5"),
    "negative clearance": ("[screws]", NERVE.format(-1.0), "clearance: found -1.0; give a number"),
    "unknown limit": ("[screws]", "[limits]\nmax_tlit = 9\n[screws]", 'write "max_tilt" or'),
    "limits that contradict": (
        "[screws]", "[limits]\nrim_least = 0.9\n[screws]", "at or below rim_",
    ),
    "cortex of the whole bone": (
        "[fracture]", "cortex = 15.0\n[fracture]", "leaves nothing of a bone",
    ),
    "negative limit": ("[screws]", "[limits]\nmax_tilt = -9\n[screws]", "give a number not below"),
    "no such group": (PLANE, 'group = "fracture"', 'has no group "fracture"; name one of its'),
    "no such mesh": ("bone.stl", "born.stl", "born.stl: there is no such file; check its name"),
    "a folder for a mesh": ("bone.stl", ".", "this is a folder; name a mesh file"),
    "no such catalogue": ('unit = "mm"', 'unit = "mm"\ncatalogue = ["x.toml"]', "no such file;"),
    "another format": ("bone.stl", "bone.step", "export the mesh as one of .stl, .obj, .ply"),
}  # fmt: skip

#: Table of axes -> what must be said of it.
TABLES = {
    "empty": ("", "the file is empty; write the header"),
    "no header": (ROW, "the header is missing; let the first row"),
    "no axis": (HEADER, "there is a header but no axis; write"),
    "hole": (f"{HEADER}A,HA4.5,lag,-30,,50,30,0,50\n", 'row 2: the cell "y" is empty; fill it in'),
    "two equal points": (f"{HEADER}A,HA4.5,lag,1,2,3,1,2,3\n", "row 2: the two points are equal;"),
    "text": (f"{HEADER}A,HA4.5,lag,-30,O,50,30,0,50\n", "row 2: y is 'O', which is no number;"),
    "not finite": (f"{HEADER}A,HA4.5,lag,-30,inf,50,30,0,50\n", "not finite; write a finite"),
    "unknown screw": (f"{HEADER}A,HA9,lag,-30,0,50,30,0,50\n", "row 2: no screw of the catalogue"),
    "unknown technique": (f"{HEADER}A,HA4.5,pull,-30,0,50,30,0,50\n", "write lag or position"),
    "same id": (HEADER + 2 * ROW, 'row 3: the id "A" stands in row 2 already; give another'),
    "decimal commas": (f"{HEADER}A,HA4.5,lag,-30,5,0,50,30,0,50\n", "a point, not a comma"),
}  # fmt: skip


def refused(answer, name, said):
    """Check that an answer is one line on standard error, with file and remedy."""
    assert (answer.status, answer.out) == (2, "")
    (line,) = answer.err.splitlines()
    assert line.startswith("trajplan: ")
    assert name in line
    assert said in line
    assert "; " in line  # what was found; how to mend it
    assert not any(word in line for word in ("Traceback", "Error(", "<", "None", "pydantic"))


@pytest.fixture
def unchanged(folder):
    """The files of the folder and all below, compared when the test is over."""
    before = {}

    def mark():
        before.update({path: path.stat().st_mtime_ns for path in folder.rglob("*")})

    yield mark
    assert before == {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    assert before


@pytest.mark.parametrize(("content", "said"), MESHES.values(), ids=MESHES)
def test_a_broken_mesh(run, case, unchanged, content, said):
    bone = case.with_name("bone.stl")
    bone.unlink()
    if content is not None:
        write(bone, content)
    unchanged()
    refused(run("inspect", "bone.stl"), "bone.stl", said)
    refused(run("inspect", "bone.stl", "--json"), "bone.stl", said)
    refused(run("fracture", "case.toml"), "bone.stl", said)
    refused(run("plan", "case.toml", "--out", "out"), "bone.stl", said)


@pytest.mark.parametrize(("old", "new", "said"), CASES.values(), ids=CASES)
def test_a_wrong_case(run, edit, unchanged, old, new, said):
    edit(old, new)
    unchanged()
    name = "bone.stl" if "if the file holds" in said else "."
    refused(run("plan", "case.toml", "--out", "out", "--no-picture"), name, said)


@pytest.mark.parametrize(
    ("key", "said"),
    [(name, CASES[name][2]) for name in (
        "unknown unit", "unknown key", "two sources", "plane beside the bone", "zero normal",
        "points on one line", "unknown screw", "negative clearance", "unknown limit",
        "no such group",
    )],
)  # fmt: skip
def test_what_is_wrong_in_the_case_names_the_case(run, edit, key, said):
    edit(*CASES[key][:2])
    refused(run("fracture", "case.toml"), "case.toml", said)


@pytest.mark.parametrize(("text", "said"), TABLES.values(), ids=TABLES)
def test_a_wrong_table_of_axes(run, case, unchanged, text, said):
    case.with_name("axes.csv").write_text(text)
    unchanged()
    refused(run("check", "case.toml", "axes.csv", "--out", "out"), "axes.csv", said)


def test_no_case_and_no_table(run, case, unchanged):
    unchanged()
    said = "there is no such file; check its name and folder"
    refused(run("plan", "x.toml"), "x.toml", said)
    refused(run("check", "case.toml", "x.csv"), "x.csv", said)
    refused(run("view", "x.json", "--shot", "x.png"), "x.json", said)
    refused(run("screws", "--catalogue", "x.toml"), "x.toml", said)


@pytest.mark.parametrize("out", ["bone.stl", "bone.stl/below", "bone.stl/far/below"])
def test_a_place_that_cannot_be_written(run, case, unchanged, out):
    case.with_name("axes.csv").write_text(HEADER + ROW)
    unchanged()
    said = "this is no folder that can be written to; give another --out folder"
    refused(run("plan", "case.toml", "--out", out), "bone.stl", said)
    refused(run("check", "case.toml", "axes.csv", "--out", out), "bone.stl", said)
    refused(run("demo", "--out", out), "bone.stl", said)


def test_a_picture_that_cannot_be_written(run, case, unchanged):
    unchanged()
    view = ("view", "case.toml", "--shot")
    refused(run(*view, "bone.stl/x.png"), "x.png", "bone.stl is no folder; make it")
    refused(run(*view, "nowhere/x.png"), "x.png", "nowhere is no folder; make it")
    refused(run(*view, "x.jpg"), "x.jpg", "let its name end in .png")


@pytest.fixture
def plan(run, case, folder):
    assert run("plan", "case.toml", "--no-picture", "--out", "out").status == 0
    return folder / "out" / "plan.json"


PLANS = {
    "no JSON": (lambda text: text[:-20], "this is not JSON"),
    "not a plan": (lambda text: '{"a": 1}', 'no "format": "trajplan-plan"; give a plan file that'),
    "newer": (lambda text: text.replace('"version": 1', '"version": 2', 1), "update trajplan"),
    "damaged": (
        lambda text: text.replace('"kind"', '"kynd"', 1),
        'kind: the key is missing; add "kind"',
    ),
    "no number": (lambda text: text.replace('"tilt": ', '"tilt": NaN, "t": ', 1), "no number of"),
}


@pytest.mark.parametrize(("change", "said"), PLANS.values(), ids=PLANS)
def test_a_broken_plan(run, plan, unchanged, change, said):
    text = plan.read_text()
    assert change(text) != text
    plan.write_text(change(text))
    unchanged()
    refused(run("view", plan, "--shot", "x.png"), "plan.json", said)


def test_a_plan_whose_mesh_changed(run, plan, unchanged):
    vertices, faces = tube()
    write(plan.parents[1] / "bone.stl", stl_bytes((vertices * [-1, 1, 1], faces[:, ::-1])))
    unchanged()
    said = "bone.stl changed since this was planned; plan the case again"
    refused(run("view", plan, "--shot", "x.png"), "plan.json", said)


def test_a_plan_whose_case_changed(run, plan, edit, unchanged):
    edit("count = 2", "count = 1")
    unchanged()
    said = "case.toml changed since this was planned; plan the case again"
    refused(run("view", plan, "--shot", "x.png"), "plan.json", said)


def test_a_plan_whose_case_is_not_there(run, plan, unchanged):
    (plan.parents[1] / "case.toml").unlink()
    unchanged()
    refused(run("view", plan, "--shot", "x.png"), "case.toml", "there is no such file;")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plna",), "invalid choice: 'plna'"),
        (("plan",), "the following arguments are required: case; see `trajplan plan --help`"),
        (("plan", "case.toml", "--ring", "9"), "unrecognized arguments: --ring 9; see"),
        (("inspect", "bone.stl", "--unit", "feet"), "invalid choice: 'feet'"),
        (
            ("screws", "nail"),
            'no screw or plate of the catalogue is of kind "nail"; name one that is',
        ),
    ],
)
def test_a_wrong_call(run, case, unchanged, words, said):
    unchanged()
    refused(run(*words), "", said)


def test_an_obj_without_faces(run, folder):
    vertices, _ = tube()
    write(folder / "bone.obj", obj_text((vertices, np.empty((0, 3), int))))
    refused(run("inspect", "bone.obj"), "bone.obj", "; export")


def test_every_case_above_differs_from_the_good_one(folder, run):
    write_case(folder)
    assert run("fracture", "case.toml").status == 0
    assert json.loads(run("inspect", "bone.stl", "--json").out)["closed"]


@pytest.mark.parametrize(
    ("words", "said"),
    [(("--seed", "-1"), "--seed: the seed is -1; give 0 or more"),
     (("--rough", "1e9"), "give 0 to 10"), (("--rough", "nan"), "give 0 to 10")],
)  # fmt: skip
def test_how_to_cut_out_of_bounds(run, case, unchanged, words, said):
    unchanged()
    refused(run("fracture", "case.toml", "--split", *words), "case.toml", said)


def test_a_study_of_too_many_values(run, case, unchanged):
    unchanged()
    refused(run("study", "case.toml", "tilt", "0:30:100000000"), "0:30", "ask for 1000 or fewer")


@pytest.mark.parametrize("words", [("--rough", "0.3"), ("--seed", "0"), ("--out", "pieces")])
def test_how_to_cut_without_cutting(run, case, unchanged, words):
    unchanged()
    refused(run("fracture", "case.toml", *words), words[0], "add --split")


def test_a_pdf_without_its_extra_is_refused_before_any_work(run, folder, monkeypatch):
    """The plan is not even looked for, and no page is written."""
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    answer = run("report", "nowhere.json", "--pdf", "page.pdf")
    assert answer.status == 2
    assert "pip install -e '.[pdf]'" in answer.err
    assert list(folder.iterdir()) == []
