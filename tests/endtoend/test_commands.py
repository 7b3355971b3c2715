"""Each command: help, good input, --json, files written, exit status."""

import csv
import json
import re
import shutil

import numpy as np
import pytest
from mesh_files import stl_bytes, write
from PIL import Image
from shaft_case import MESHES
from specimens import tube

from trajplan.cautions import CAUTION_TEXT, CAUTIONS
from trajplan.cli import main
from trajplan.cli._output import bar
from trajplan.files import read_plan
from trajplan.planner import program_version

COMMANDS = ("inspect", "fracture", "plan", "check", "view", "screws", "demo")
#: Share of a circle's area that a 64-gon with its corners on it covers (closed form).
POLYGON = 64 * np.sin(2 * np.pi / 64) / (2 * np.pi)


def one_line(text):
    return " ".join(text.split())


def cautioned(text):
    return all(sentence in one_line(text) for sentence in CAUTIONS)


def picture_size(path):
    with Image.open(path) as picture:
        return picture.size


@pytest.mark.parametrize("command", [(), *((name,) for name in COMMANDS)])
def test_help(run, command):
    answer = run(*command, "--help")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out.startswith(" ".join(("usage: trajplan", *command)))
    assert cautioned(answer.out)
    if not command:
        assert all(f"    {name} " in answer.out for name in COMMANDS)


def test_no_command_prints_the_help(run):
    assert run() == run("--help")


def test_version(run):
    assert run("--version").out == f"trajplan {program_version()}\n"


def test_inspect(run, case):
    answer = run("inspect", "bone.stl")
    assert (answer.status, answer.err) == (0, "")
    assert re.search(r"^closed +yes$", answer.out, re.MULTILINE)
    assert re.search(r"^canal modelled +yes$", answer.out, re.MULTILINE)
    assert cautioned(answer.out)


def test_inspect_json(run, case):
    audit = run("inspect", "bone.stl", "--json").json
    assert audit["notice"] == CAUTION_TEXT
    # closed form: a prism of 100 mm less a prism of 90 mm
    assert audit["volume"] == pytest.approx(POLYGON * np.pi * (14**2 * 100 - 9**2 * 90), rel=1e-6)
    assert (audit["faces"], audit["closed"], audit["canal"]) == (512, True, True)


def test_inspect_reads_the_unit_that_is_said(run, case):
    vertices, faces = tube()
    write(case.with_name("metres.stl"), stl_bytes((vertices / 1000, faces)))
    millimetres, metres = (
        run("inspect", *words, "--json").json
        for words in (("bone.stl",), ("metres.stl", "--unit", "m"))
    )
    assert metres["high"] == pytest.approx(millimetres["high"], rel=1e-6)


def test_inspect_tells_of_gaps_and_groups(run):
    answer = run("inspect", MESHES / "shaft.obj")
    assert answer.status == 0
    assert "open edges: the surface is not closed" in one_line(answer.out)
    assert re.search(r"^groups +.*fracture \(\d+\)", answer.out, re.MULTILINE)
    groups = run("inspect", MESHES / "shaft.obj", "--json").json["groups"]
    assert groups["fracture"] > 0


def test_fracture(run, case):
    answer = run("fracture", "case.toml")
    assert (answer.status, answer.err) == (0, "")
    assert "Z1" in answer.out
    assert cautioned(answer.out)


def test_fracture_json(run, case):
    fracture = run("fracture", "case.toml", "--json").json
    assert fracture["notice"] == CAUTION_TEXT
    (zone,) = fracture["zones"]
    assert np.abs(zone["normal"]) == pytest.approx([0.5, 0, np.sqrt(0.75)], abs=1e-9)
    # closed form: the ring of the cross-section, stretched by 1 / cos 30 degrees
    ring = POLYGON * np.pi * (14**2 - 9**2) / np.sqrt(0.75)
    assert zone["area"] == pytest.approx(ring, rel=1e-6)


def test_fracture_between_fragments_tells_gap_step_overlap_and_parts(run):
    """The upper fragment was moved off by 0.6 mm along the normal (`scripts/mesh_breaks.py`)."""
    case = MESHES / "oblique.toml"
    told = run("fracture", case, "--json").json
    (fit,) = told["fits"]
    assert fit["gap"]["mean"] == pytest.approx(0.6, abs=0.05)
    assert fit["step"]["mean"] > 0.3
    assert fit["overlap_volume"] == 0
    parts = ["oblique_lower.stl", "oblique_upper.stl"]
    assert [zone["fragments"] for zone in told["zones"]] == [parts]
    printed = run("fracture", case).out
    assert re.search(r"gap mean +gap most +step mean +step most +overlap", printed)
    assert printed.count(" + ".join(parts)) == 2


def test_plan(run, case, folder):
    answer = run("plan", "case.toml", "--out", "out")
    assert (answer.status, answer.err) == (0, "")
    assert {path.name for path in (folder / "out").iterdir()} == {
        "plan.json", "plan.csv", "plan.png", "source.json", ".trajplan",
    }  # fmt: skip
    plan = read_plan(folder / "out" / "plan.json")
    assert [screw.id for screw in plan.screws] == ["screw 1", "screw 2"]
    assert all(f"\n{screw.id}  HA4.5 " in answer.out for screw in plan.screws)
    assert answer.out.splitlines()[0] == f"case.toml: {plan.verdict.upper()}"
    assert cautioned(answer.out)
    assert plan.cautions[: len(CAUTIONS)] == CAUTIONS
    rows = list(csv.DictReader((folder / "out" / "plan.csv").read_text().splitlines()))
    assert [row["id"] for row in rows] == ["screw 1", "screw 2"]
    assert all(cautioned(row["cautions_of_plan"]) for row in rows)
    assert picture_size(folder / "out" / "plan.png") == (1600, 1000)


def test_plan_json_prints_the_plan_file(run, case, folder):
    answer = run("plan", "case.toml", "--json", "--no-picture", "--out", "out")
    assert answer.status == 0
    assert answer.out == (folder / "out" / "plan.json").read_text(encoding="utf-8")
    assert not (folder / "out" / "plan.png").exists()


def test_plan_names_its_folder_after_the_case(run, case, folder):
    run("plan", "case.toml", "--no-picture")
    assert (folder / "case-plan" / "plan.json").is_file()


def test_the_same_case_gives_the_same_bytes(run, case, folder):
    run("plan", "case.toml", "--no-picture", "--out", "one")
    run("plan", case, "--no-picture", "--out", "deeper/two")  # named by its full path
    one, two = (
        re.sub(r'"created": "[^"]*"', "", (folder / out / "plan.json").read_text())
        for out in ("one", "deeper/two")
    )
    assert one == two
    tables = [(folder / out / "plan.csv").read_bytes() for out in ("one", "deeper/two")]
    assert tables[0] == tables[1]


def test_status_1_and_the_cost_of_each_rule_where_nothing_fits(run, edit, folder):
    vertices, faces = tube(outer=1.0, inner=0.5, length=100.0)
    write(folder / "nerve.stl", stl_bytes((vertices + np.array([25.0, 0, 0]), faces)))
    edit("[screws]", '[[avoid]]\nname = "nerve"\nmesh = "nerve.stl"\nclearance = 90.0\n[screws]')
    answer = run("plan", "case.toml", "--no-picture", "--out", "out")
    assert (answer.status, answer.err) == (1, "")
    assert answer.out.startswith("case.toml: FAIL")
    assert "0 of 2 screws could be placed" in one_line(answer.out)
    assert re.search(r"^avoid_clearance +\d+ +\d+\.\d\d mm$", answer.out, re.MULTILINE)
    plan = read_plan(folder / "out" / "plan.json")
    assert (plan.screws, plan.verdict) == ((), "fail")
    assert any(tally.nearest_miss > 0 for tally in plan.tally if tally.rule == "avoid_clearance")


def test_a_limit_of_the_case_is_used_and_shown(run, edit, folder):
    edit("[screws]", "[limits]\ntip_past = 4.0\ntip_most = 6.0\n[screws]")
    assert run("plan", "case.toml", "--no-picture", "--out", "out").status == 0
    plan = read_plan(folder / "out" / "plan.json")
    changed = {limit.name: (limit.value, limit.default) for limit in plan.limits if limit.changed}
    assert changed == {"tip_past": (4.0, 2.0), "tip_most": (6.0, 3.0)}
    assert all(screw.proud_tip >= 4.0 for screw in plan.screws)


def test_no_picture_of_an_earlier_plan_stays(run, case, folder):
    """It would show another plan than the file beside it; what trajplan did not write stays."""
    out = folder / "out"
    out.mkdir()
    (out / "notes.png").write_bytes(b"mine")
    run("plan", "case.toml", "--out", "out")
    assert (out / "plan.png").exists()
    assert run("plan", "case.toml", "--no-picture", "--out", "out").status == 0
    assert not (out / "plan.png").exists()
    assert "plan.png" not in (out / ".trajplan").read_text()
    assert (out / "notes.png").exists()
    (out / "plan.png").write_bytes(b"mine too")
    assert run("plan", "case.toml", "--no-picture", "--out", "out").status == 0
    assert (out / "plan.png").read_bytes() == b"mine too"


@pytest.mark.parametrize(
    ("way", "status"), [("[1, 0, 0]", 2), ("[0, 1, 0.4]", 2), ("[0, 1, 1]", 0)]
)
def test_a_proximal_end_across_the_shaft_is_refused(run, case, edit, folder, way, status):
    edit("[bone]", f"[bone]\nproximal = {way}")
    answer = run("plan", "case.toml", "--no-picture", "--out", "out")
    assert answer.status == status
    if status == 2:
        assert "bone.proximal" in answer.err
        assert "degrees to the shaft" in answer.err
        assert not (folder / "out").exists()


def test_view_draws_a_plan(run, case, folder):
    run("plan", "case.toml", "--no-picture", "--out", "out")
    answer = run("view", "out/plan.json", "--shot", "plan.png")
    assert (answer.status, answer.err) == (0, "")
    assert cautioned(answer.out)
    assert picture_size(folder / "plan.png") == (1600, 1000)


def test_view_plans_a_case_and_draws_it(run, case, folder):
    assert run("view", "case.toml", "--shot", "case.png").status == 0
    assert picture_size(folder / "case.png") == (1600, 1000)


def test_view_of_a_plan_that_moved_needs_its_case(run, case, folder):
    run("plan", "case.toml", "--no-picture", "--out", "out")
    shutil.move(folder / "out" / "plan.json", folder / "plan.json")
    answer = run("view", "plan.json", "--shot", "plan.png")
    assert answer.status == 2
    assert "name the case with --case" in answer.err
    assert run("view", "plan.json", "--case", "case.toml", "--shot", "plan.png").status == 0


def test_screws_lists_the_catalogue(run):
    answer = run("screws")
    assert (answer.status, answer.err) == (0, "")
    assert cautioned(answer.out)
    data = run("screws", "--json").json
    assert all(f"\n{screw['kind']} " in answer.out for screw in data["screws"])
    assert data["notice"] == CAUTION_TEXT
    assert {wire["kind"] for wire in data["wires"]} >= {"W1.6"}
    assert all(f"\n{plate['kind']} " in answer.out for plate in data["plates"])
    assert {plate["kind"] for plate in data["plates"]} >= {"Narrow4.5"}


def test_screws_tells_where_each_value_comes_from(run):
    answer = run("screws", "ha 4.5")
    assert answer.status == 0
    assert re.search(
        r"^pitch +1\.75 +not verified against the standard +ISO 5835:1991$",
        answer.out,
        re.MULTILINE,
    )
    screw = run("screws", "HA4.5", "--json").json
    assert screw["thread_diameter"] == 4.5
    assert screw["sources"]["thread_hole"]["status"] == "published"
    plate = run("screws", "narrow4.5")
    assert re.search(
        r"^tilt_along +25.0 +not verified against the standard +AO manual", plate.out, re.MULTILINE
    )
    assert cautioned(plate.out)


def test_screws_reads_a_catalogue_of_ones_own(run, folder):
    (folder / "mine.toml").write_text(
        '[[wire]]\nkind = "W1.7"\ndiameter = 1.7\n'
        '[wire.sources]\ndefault = { status = "common practice", source = "common practice" }\n'
    )
    wires = run("screws", "--catalogue", "mine.toml", "--json").json["wires"]
    assert 1.7 in [wire["diameter"] for wire in wires]


def test_demo(run, folder):
    answer = run("demo")
    assert (answer.status, answer.err) == (0, "")
    assert {path.name for path in (folder / "demo-plan").iterdir()} == {
        "plan.json", "plan.csv", "plan.png", "source.json", ".trajplan",
    }  # fmt: skip
    plan = read_plan(folder / "demo-plan" / "plan.json")
    assert [(screw.kind, screw.technique) for screw in plan.screws] == [("HA4.5", "lag")] * 2
    verdicts = [f.verdict for screw in plan.screws for f in screw.findings]
    assert "fail" not in [*verdicts, *(f.verdict for f in plan.findings)]


def test_demo_json(run):
    answer = run("demo", "--json", "--no-picture", "--out", "out")
    assert answer.status == 0
    assert answer.json["format"] == "trajplan-plan"


def test_a_bug_is_status_3_and_says_so(run, case, monkeypatch):
    def broken(case, **_):
        raise RuntimeError("a screw came loose")

    monkeypatch.setattr("trajplan.planner.plan_case", broken)
    answer = run("plan", "case.toml", "--out", "out")
    assert answer.status == 3
    assert answer.err.count("\n") == 1
    assert "a screw came loose" in answer.err
    monkeypatch.setenv("TRAJPLAN_TRACEBACK", "1")
    with pytest.raises(RuntimeError, match="came loose"):
        main(["plan", "case.toml", "--out", "out"])


def test_the_note_beside_a_plan_leads_to_its_case(run, case, folder):
    run("plan", "case.toml", "--no-picture", "--out", "deep/out")
    note = json.loads((folder / "deep" / "out" / "source.json").read_text())
    assert (folder / "deep" / "out" / note["case"]).resolve() == case.resolve()


def test_a_bar_tells_how_far_the_placement_errors_are(run, edit, monkeypatch):
    """Only on a terminal; the draws of two screws, twice as many axes as draws."""
    told = []
    monkeypatch.setattr(
        "trajplan.cli._planning.bar", lambda text: lambda *at: told.append((text, *at))
    )
    edit("draws = 50", "draws = 3000")
    assert run("plan", "case.toml", "--no-picture", "--out", "out").err == ""
    assert told == [("placement error", 4096, 6000), ("placement error", 6000, 6000)]


def test_a_bar_counts_to_the_end_and_goes(monkeypatch):
    made = []

    class Bar:
        def __init__(self, **options):
            made.append(options)
            self.n = 0

        def update(self, more):
            self.n += more
            made.append(self.n)

        def close(self):
            made.append("closed")

    monkeypatch.setattr("tqdm.tqdm", Bar)
    tell = bar("placement error")
    tell(40, 100)
    tell(100, 100)
    assert made == [
        {
            "desc": "placement error",
            "total": 100,
            "unit": " axes",
            "delay": 1.0,
            "leave": False,
            "disable": None,
        },
        40,
        100,
        "closed",
    ]
