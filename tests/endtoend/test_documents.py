"""README.md, DEVELOPERS.md and the pages of help: what they say runs, what they name is there."""

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from PIL import Image
from pydantic import BaseModel

from scripts.make_help import made_anew, schemas
from scripts.make_pictures import with_quotes
from trajplan.bone import REPAIRS
from trajplan.cautions import CAUTION_TEXT
from trajplan.files import (
    Case,
    ContactRecord,
    FitRecord,
    OpeningRecord,
    OptionRecord,
    PlanFile,
    PlateRecord,
    ReserveRecord,
    ScrewRecord,
    ShaftRecord,
    WireRecord,
    ZoneRecord,
    read_plan,
)
from trajplan.show._window.commands import COMMANDS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


PAGES = {
    page.stem: page.read_text(encoding="utf-8")
    for page in sorted((ROOT / "trajplan" / "help").glob("*.md"))
}
#: All that a user reads and may type.
TYPED = "\n".join([README, *PAGES.values()])


def blocks(language, text=TYPED):
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)


def rows(text, head):
    """Cells of the table whose head begins with a word."""
    table = re.split(r"\n\n|\n<!--", text[text.index(f"| {head} |") :])[0].splitlines()
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in table[2:]]


def code(cell):
    return re.findall(r"`([^`]+)`", cell)


@pytest.fixture
def checkout(folder):
    """A folder with the demonstration meshes, to run what README.md says."""
    shutil.copytree(ROOT / "meshes", folder / "meshes")
    return folder


def test_the_cautions_stand_near_the_top():
    assert CAUTION_TEXT in " ".join(README.partition("## Start")[0].split())


def test_readme_and_developers_are_short():
    assert len(README.splitlines()) <= 250
    assert len(DEVELOPERS.splitlines()) <= 250


@pytest.mark.parametrize("text", [README, PAGES["example"]], ids=["README.md", "example"])
def test_what_is_quoted_is_what_the_program_prints(text, folder, capsys):
    assert "Oblique shaft fracture" in text
    assert with_quotes(text) == text, "run scripts/make_pictures.py"


@pytest.mark.parametrize("name", PAGES)
def test_what_a_page_takes_from_the_code_is_what_the_code_says(name):
    assert made_anew(PAGES[name]) == PAGES[name], "run scripts/make_help.py"


@pytest.mark.parametrize("name", schemas())
def test_the_schemas_that_ship_are_those_of_the_models(name):
    text = (ROOT / "trajplan" / "files" / f"{name}.schema.json").read_text(encoding="utf-8")
    assert json.loads(text) == schemas()[name], "run scripts/make_help.py"


def test_every_key_of_a_case_is_described_in_its_schema():
    schema = schemas()["case"]
    for part in (schema, *schema["$defs"].values()):
        for name, told in part["properties"].items():
            assert told.get("description"), name


def test_every_page_prints_whole_and_is_linked(run):
    listed = run("help").out
    for name, text in PAGES.items():
        assert f"  {name} " in listed
        assert f"(trajplan/help/{name}.md)" in README
        printed = run("help", name)
        assert printed.status == 0
        heads = r"^\|.*\|\n(?=\| ---)"  # not told where a table is laid out as a list
        body = re.sub(
            rf"!\[.*?\]\(.*?\)|<!--.*?-->|\]\(.*?\)|^```\w+$|{heads}", "", text, flags=re.MULTILINE
        )
        assert set(re.findall(r"\w+", body)) <= set(re.findall(r"\w+", printed.out)), name
    assert run("help", "cases").status == 2


def test_links_lead_to_files():
    for home, text in (
        (ROOT, README + DEVELOPERS),
        (ROOT / "trajplan/help", "".join(PAGES.values())),
    ):
        for link in re.findall(r"\]\(([^)\s]+)\)", text):
            assert (home / link).exists(), link


def test_every_demonstration_case_has_its_row_and_picture():
    shown = {code(row[0])[0]: row[2] for row in rows(README, "case | what it shows")}
    assert set(shown) == {path.stem for path in (ROOT / "meshes").glob("*.toml")}
    for name, picture in shown.items():
        assert f"(meshes/{name}_plan.png)" in picture


def test_pictures_are_there_and_small():
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert pictures
    for name in pictures:
        assert (ROOT / name).stat().st_size < 200_000
        with Image.open(ROOT / name) as picture:
            assert picture.size == (1280, 800)


@pytest.mark.parametrize("number", range(len(blocks("python"))))
def test_python_that_is_shown_runs(checkout, capsys, number):
    exec(
        compile(blocks("python")[number], f"block {number + 1}", "exec"),
        {"__name__": "__main__"},
    )


def test_tables_that_are_shown_are_those_that_ship():
    shown = {(ROOT / "meshes" / name).read_text() for name in ("many.csv", "shaft_lines.csv")}
    assert set(blocks("csv")) == shown


def test_commands_that_are_shown_run(run, checkout):
    """Those of README.md from top to bottom, then what only the pages of help show."""
    lines = dict.fromkeys(line for block in blocks("console") for line in block.splitlines())
    commands = [shlex.split(line.removeprefix("$ trajplan")) for line in lines]
    there = set(re.findall(r"^    (\w+) ", run("--help").out, re.MULTILINE))
    assert {words[0] for words in commands} == there
    for words in commands:
        answer = run(*words)
        assert answer.status == (1 if words[0] == "check" else 0), (words, answer.err)
        assert not answer.err or words[0] == "batch", words  # a batch tells there how far it is
    # what their plans say stands on the page of rules
    plans = [read_plan(path) for path in checkout.glob("*/plan.json")]
    parts = [part for plan in plans for part in (plan, *plan.screws, *plan.wires, *plan.plates)]
    said = {finding.rule for part in parts for finding in part.findings}
    assert len(said) > 30
    assert said <= {code(row[0])[0] for row in rows(PAGES["rules"], "rule | asks | source")}


def test_every_key_of_the_window_is_explained():
    explained = {
        key for row in rows(PAGES["commands"], "key in the window") for key in code(row[0])
    }
    assert explained == {command.shown for command in COMMANDS}


def test_every_repair_is_explained_in_its_order():
    assert [code(row[0])[0] for row in rows(PAGES["case"], "repair")] == list(REPAIRS)


def test_toml_that_is_shown_is_taken(run, checkout):
    (checkout / "mine.toml").write_text("\n".join(blocks("toml", PAGES["catalogue"])))
    assert run("screws", "X3.0", "--catalogue", "mine.toml").status == 0
    assert run("screws", "X4.5", "--catalogue", "mine.toml").status == 0
    (limits,) = blocks("toml", PAGES["limits"])
    case = checkout / "meshes" / "shaft.toml"
    case.write_text(case.read_text() + limits)
    assert run("fracture", case).status == 0


def keys(model, before=""):
    """Every key of a case, tables of tables joined by a dot."""
    for name, field in model.model_fields.items():
        key = before + (field.alias or name)
        tables = [m for m in models(field.annotation) if not before]
        yield key
        for table in tables:
            yield from keys(table, f"{key}.")


def models(annotation):
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in getattr(annotation, "__args__", ()) for model in models(part)]


def test_every_key_of_the_case_is_explained():
    explained = [code(row[0])[0] for row in rows(PAGES["case"], "key | default | meaning")]
    tables = {
        "bone",
        "fracture",
        "reduction",
        "screws",
        "wires",
        "mechanics",
        "placement",
        "weights",
    }  # their keys say it all
    assert sorted(explained) == sorted(set(keys(Case)) - tables)


def test_every_key_that_is_explained_of_the_plan_is_there():
    named = [name for row in rows(PAGES["plan"], "key | meaning") for name in code(row[0])]
    top = {name.partition(".")[0] for name in named}
    there = {*PlanFile.model_fields, "digest"}  # worked out when a plan is written
    assert top <= there
    assert there - top <= {"title", "frame", "case", "seed"}


def test_every_field_of_a_screw_and_a_wire_is_explained():
    fields = {name for row in rows(PAGES["plan"], "field | meaning") for name in code(row[0])}
    assert fields == set(ScrewRecord.model_fields)
    wire = PAGES["plan"][PAGES["plan"].index("Of each wire:") :].partition("\n\n")[0]
    assert set(code(wire)) == set(WireRecord.model_fields)


def test_every_field_of_a_plate_is_explained():
    fields = {name for row in rows(PAGES["plan"], "field of a plate") for name in code(row[0])}
    assert fields == set(PlateRecord.model_fields)


@pytest.mark.parametrize(
    ("key", "record", "elsewhere"),
    [
        ("fracture.zones", ZoneRecord, {"id"}),
        ("fracture.fits", FitRecord, set()),
        ("fracture.shaft", ShaftRecord, set()),
        ("contact", ContactRecord, set()),
        ("slip_reserve", ReserveRecord, set()),
        ("opening_load", OpeningRecord, set()),
        ("options", OptionRecord, set()),
    ],
)
def test_every_field_of_a_part_of_the_plan_is_explained(key, record, elsewhere):
    (said,) = (row[1] for row in rows(PAGES["plan"], "key | meaning") if code(row[0]) == [key])
    assert set(record.model_fields) - elsewhere <= set(code(said))


def test_every_package_has_its_row_among_the_floors():
    named = {name for row in rows(DEVELOPERS, "floor") for name in code(row[0])}
    package = ROOT / "trajplan"
    there = {f"trajplan/{path.parent.name}" for path in package.glob("*/__init__.py")}
    there |= {f"trajplan/{path.name}" for path in package.glob("*.py") if path.name[0] != "_"}
    assert there <= named


def test_tolerances_are_where_the_guide_says():
    tolerances = rows(DEVELOPERS, "constant")
    assert len(tolerances) > 5
    for name, value, where in tolerances:
        text = (ROOT / code(where)[0]).read_text(encoding="utf-8")
        found = re.search(rf"^{code(name)[0]} = (\S+)", text, re.MULTILINE)
        assert found, name
        assert float(found[1]) == float(value.split()[0]), name


def test_measured_comparisons_are_counted_and_are_there():
    compared = rows(PAGES["proof"], "measured")
    assert f"the same set-up: {len(compared)} of them" in " ".join(PAGES["proof"].split())
    assert len(compared) >= 12
    held = "".join(p.read_text(encoding="utf-8") for p in (ROOT / "tests/reference").glob("*.py"))
    for *_, test in compared:
        assert f"def {code(test)[0].partition('::')[2]}(" in held


def named_tests():
    return [test for row in rows(PAGES["proof"], "hazard") for test in code(row[2])]


def test_the_table_of_hazards_names_all_that_could_hurt():
    hazards = " ".join(row[0] for row in rows(PAGES["proof"], "hazard"))
    for word in ("unit", "mirrored", "thread across", "joint", "screws meet", "assumed cortex",
                 "changed after planning", "unknown shown as pass"):  # fmt: skip
        assert word in hazards
    assert all(len(row) == 3 and row[1] and code(row[2]) for row in rows(PAGES["proof"], "hazard"))


@pytest.mark.parametrize("test", named_tests())
def test_every_test_that_the_table_of_hazards_names_is_there(test):
    path, _, name = test.partition("::")
    text = (ROOT / path).read_text(encoding="utf-8")
    assert re.search(rf"^ *def {name}\(", text, re.MULTILINE), f"{path} has no {name}"
