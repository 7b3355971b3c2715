"""README.md and DEVELOPERS.md: what they say runs, and what they name is there."""

import re
import shlex
import shutil
from pathlib import Path

import pytest
from PIL import Image
from pydantic import BaseModel

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
)
from trajplan.show._window.commands import COMMANDS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)


def rows(text, head):
    """Cells of the table whose head begins with a word."""
    table = text[text.index(f"| {head} |") :].partition("\n\n")[0].splitlines()
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


def test_what_readme_quotes_is_what_the_program_prints(folder, capsys):
    assert "Oblique shaft fracture" in README
    assert with_quotes(README) == README, "run scripts/make_pictures.py"


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
def test_python_of_readme_runs(checkout, capsys, number):
    exec(
        compile(blocks("python")[number], f"README.md, block {number + 1}", "exec"),
        {"__name__": "__main__"},
    )


def test_commands_of_readme_run(run, checkout):
    manifest, lines = blocks("csv")
    (checkout / "cases.csv").write_text(manifest)
    (checkout / "lines.csv").write_text(lines)
    commands = [
        shlex.split(line.removeprefix("$ trajplan"))
        for block in blocks("console")
        for line in block.splitlines()
    ]
    there = set(re.findall(r"^    (\w+) ", run("--help").out, re.MULTILINE))
    assert {words[0] for words in commands} == there
    for words in commands:
        answer = run(*words)
        assert answer.status == (1 if words[0] == "check" else 0), (words, answer.err)
        assert not answer.err or words[0] == "batch", words  # a batch tells there how far it is


def test_every_key_of_the_window_is_explained():
    explained = {key for row in rows(README, "key in the window") for key in code(row[0])}
    assert explained == {command.shown for command in COMMANDS}


def test_every_repair_is_explained_in_its_order():
    assert [code(row[0])[0] for row in rows(README, "repair")] == list(REPAIRS)


def test_toml_of_readme_is_taken(run, checkout):
    limits, *catalogue = blocks("toml")
    (checkout / "mine.toml").write_text("\n".join(catalogue))
    assert run("screws", "X3.0", "--catalogue", "mine.toml").status == 0
    assert run("screws", "X4.5", "--catalogue", "mine.toml").status == 0
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
    explained = [code(row[0])[0] for row in rows(README, "key | default")]
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


def test_every_key_that_readme_gives_the_plan_is_there():
    named = [name for row in rows(README, "key | meaning") for name in code(row[0])]
    top = {name.partition(".")[0] for name in named}
    there = {*PlanFile.model_fields, "digest"}  # worked out when a plan is written
    assert top <= there
    assert there - top <= {"title", "frame", "case", "seed"}


def test_every_field_of_a_screw_and_a_wire_is_explained():
    fields = {name for row in rows(README, "field") for name in code(row[0])}
    assert fields == set(ScrewRecord.model_fields)
    wire = README[README.index("Of each wire:") :].partition("\n\n")[0]
    assert set(code(wire)) == set(WireRecord.model_fields)


def test_every_field_of_a_plate_is_explained():
    fields = {name for row in rows(README, "field of a plate") for name in code(row[0])}
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
    (said,) = (row[1] for row in rows(README, "key | meaning") if code(row[0]) == [key])
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
    compared = rows(DEVELOPERS, "measured")
    assert f"the same set-up: {len(compared)} of them" in " ".join(DEVELOPERS.split())
    assert len(compared) >= 12
    held = "".join(p.read_text(encoding="utf-8") for p in (ROOT / "tests/reference").glob("*.py"))
    for *_, test in compared:
        assert f"def {code(test)[0].partition('::')[2]}(" in held


def named_tests():
    return [test for row in rows(DEVELOPERS, "hazard") for test in code(row[2])]


def test_the_table_of_hazards_names_all_that_could_hurt():
    hazards = " ".join(row[0] for row in rows(DEVELOPERS, "hazard"))
    for word in ("unit", "mirrored", "thread across", "joint", "screws meet", "assumed cortex",
                 "changed after planning", "unknown shown as pass"):  # fmt: skip
        assert word in hazards
    assert all(len(row) == 3 and row[1] and code(row[2]) for row in rows(DEVELOPERS, "hazard"))


@pytest.mark.parametrize("test", named_tests())
def test_every_test_that_the_table_of_hazards_names_is_there(test):
    path, _, name = test.partition("::")
    text = (ROOT / path).read_text(encoding="utf-8")
    assert re.search(rf"^ *def {name}\(", text, re.MULTILINE), f"{path} has no {name}"
