"""The plan file: numbers, round trips, schema, refusals, and the table made from it."""

import csv
import json
from importlib import resources

import numpy as np
import pytest
from pydantic import ValidationError

from trajplan import files
from trajplan.errors import OutputError, PlanFileError
from trajplan.files import (
    AlternativeRecord,
    CaseRecord,
    CortexRecord,
    CountersinkRecord,
    DepthRecord,
    FindingRecord,
    FractureRecord,
    HoleRecord,
    LimitRecord,
    MeshRecord,
    PlanFile,
    ProgramRecord,
    RangeRecord,
    ScrewRecord,
    StretchRecord,
    TallyRecord,
    ZoneRecord,
    plan_schema,
    read_plan,
    write_plan,
    write_plan_csv,
)

FORCES = ("holding", "preload", "squeeze", "shear", "stripping_torque", "breaking_torque",
          "head_pressure")  # fmt: skip
CAUTION = "Planning aid for trained people. Not a medical device."


def finding(verdict="pass", rule="tilt"):
    return FindingRecord(
        rule=rule,
        subject="screw 1",
        verdict=verdict,
        measured=1.25,
        limit=20.0,
        unit="degrees",
        why="The screw stands square to the fracture.",
        source="common practice",
    )


def screw(**changes):
    values = {
        "id": "screw 1",
        "kind": "HA4.5",
        "technique": "lag",
        "hold": "bicortical",
        "zone": "Z1",
        "entry": np.array([0.0, 0.1, 1 / 3]),
        "exit": (0.0, 0.0, 28.0),
        "direction": np.array([0.0, -0.0, 1.0]),
        "intervals": ((0.0, 5.0), (23.0, 28.0)),
        "fracture_depth": DepthRecord(min=13.1, axis=14.0, max=14.9),
        "near_cortex": CortexRecord(thickness=5.0, basis="modelled"),
        "far_cortex": CortexRecord(thickness=np.nan, basis="unknown"),
        "seat": np.float64(0.4),
        "rim_contact": 0.75,
        "entry_angle": 12.0,
        "gauge": 28.5,
        "length": np.int64(32),
        "proud_tip": 2.4,
        "gliding_hole": HoleRecord(diameter=4.5, start=0.0, end=14.9),
        "thread_hole": HoleRecord(diameter=3.2, start=14.9, end=28.9),
        "tap": HoleRecord(diameter=4.5, start=14.9, end=28.9),
        "countersink": CountersinkRecord(diameter=8.0, depth=1.5),
        "thread": StretchRecord(start=3.1, end=31.0),
        "purchase": 5.1,
        "thread_turns": 2.9,
        "tilt": 1.2,
        "findings": [finding()],
    }
    return ScrewRecord(**{**values, **changes})


def plan(**changes):
    values = {
        "created": "2020-01-02T03:04:05+00:00",
        "program": ProgramRecord(name="trajplan", version="0.1.0"),
        "title": "bench ü 3",
        "frame": "LPS",
        "cautions": (CAUTION,),
        "case": CaseRecord(name="case.toml", sha256="0" * 64),
        "meshes": (MeshRecord(role="bone", name="a.stl", sha256="a" * 64, faces=np.int64(12)),),
        "fracture": FractureRecord(
            zones=(ZoneRecord(id="Z1", point=(0, 0, 0), normal=(0, 0, 1), area=812.4, rms=0.21),)
        ),
        "limits": (
            LimitRecord(
                name="max_tilt",
                value=20.0,
                default=20.0,
                unit="degrees",
                source="common practice",
                changed=False,
            ),
        ),
        "screws": (screw(),),
        "findings": (finding("caution"),),
        "alternatives": (AlternativeRecord(replaces="screw 1", screw=screw(id="A1")),),
        "tally": (TallyRecord(rule="tilt", candidates=12, nearest_miss=0.4, unit="degrees"),),
        "verdict": "caution",
    }
    return PlanFile(**{**values, **changes})


def test_round_trip(tmp_path):
    before = plan()
    write_plan(tmp_path / "plan.json", before)
    assert read_plan(tmp_path / "plan.json") == before


def test_the_same_plan_gives_the_same_bytes(tmp_path):
    write_plan(tmp_path / "a.json", plan())
    write_plan(tmp_path / "b.json", read_plan(tmp_path / "a.json"))
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()


def test_the_part_that_others_may_rely_on(tmp_path):
    write_plan(tmp_path / "plan.json", plan())
    data = json.loads((tmp_path / "plan.json").read_text("utf-8"))
    assert (data["format"], data["version"], data["unit"]) == ("trajplan-plan", 1, "mm")
    assert data["fracture"]["zones"][0]["normal"] == [0, 0, 1]
    record = data["screws"][0]
    assert record["entry"] == [0.0, 0.1, 0.333333]
    assert record["direction"] == [0.0, 0.0, 1.0]
    assert record["intervals"] == [[0.0, 5.0], [23.0, 28.0]]
    assert record["fracture_depth"] == {"min": 13.1, "axis": 14.0, "max": 14.9}
    assert record["gliding_hole"] == {"from": 0.0, "to": 14.9, "diameter": 4.5}
    assert record["thread"] == {"from": 3.1, "to": 31.0}
    assert record["far_cortex"] == {
        "thickness": None,
        "basis": "unknown",
        "spread": None,
    }
    assert record["length"] == 32


def test_no_negative_zero_and_no_nan_is_written(tmp_path):
    gaps = screw(seat=np.nan, gauge=np.inf, exit=np.full(3, np.nan), tilt=-1e-9)
    write_plan(tmp_path / "plan.json", plan(screws=(gaps,)))
    text = (tmp_path / "plan.json").read_text("utf-8")
    assert "-0.0" not in text
    assert "NaN" not in text
    assert "Infinity" not in text
    record = json.loads(text)["screws"][0]
    assert (record["seat"], record["gauge"], record["exit"]) == (None, None, None)
    assert record["tilt"] == 0.0


def test_a_screw_that_misses_the_bone_needs_no_measures():
    missed = ScrewRecord(id="screw 1", kind="HA4.5", technique="lag", direction=(0, 0, 1))
    assert missed.intervals == ()
    assert (missed.entry, missed.gauge, missed.gliding_hole) == (None, None, None)


@pytest.mark.parametrize(
    "changes",
    [
        {"direction": np.full(3, np.nan)},
        {"direction": (0.0, 1.0)},
        {"technique": "pull"},
        {"hold": "by thread"},
        {"rim_contact": 1.1},
        {"gauge": "28"},
        {"leaves_bone": 1},
        {"intervals": ((0.0, np.nan),)},
        {"colour": "red"},
    ],
)
def test_records_refuse_what_they_cannot_hold(changes):
    with pytest.raises(ValidationError):
        screw(**changes)


def test_records_are_frozen():
    with pytest.raises(ValidationError):
        screw().gauge = 3.0


def test_the_shipped_schema_is_that_of_the_models():
    text = resources.files(files).joinpath("plan.schema.json").read_text("utf-8")
    assert json.loads(text) == plan_schema()


def test_the_schema_asks_for_every_key_that_is_written():
    schema = plan_schema()
    data = json.loads(plan().model_dump_json(by_alias=True))
    assert set(schema["required"]) == set(data) == set(schema["properties"])
    record = schema["$defs"]["ScrewRecord"]
    assert set(record["required"]) == set(data["screws"][0])
    assert record["additionalProperties"] is False
    assert set(schema["$defs"]["HoleRecord"]["required"]) == {"diameter", "from", "to"}


def test_every_number_of_a_screw_says_its_unit():
    for name, field in ScrewRecord.model_fields.items():
        if "Number" in str(field.annotation) or "float" in str(field.annotation):
            words = field.description or ""
            assert any(unit in words for unit in ("mm", "degrees", "unit", "0 to 1", "turns")), name


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "not JSON"),
        (b"hello", "not JSON"),
        (b"\xff\xfe", "not JSON"),
        (b'{"format": "trajplan-plan", "seed": NaN}', "NaN is no number of JSON"),
        (b'{"format": "trajplan-plan", "seed": -Infinity}', "-Infinity is no number"),
        (b"[" * 100_000, "not JSON"),
        (b"[]", 'no "format"'),
        (b"{}", 'no "format"'),
        (b'{"format": "other"}', 'no "format"'),
        (b'{"format": "trajplan-plan", "version": 2}', "newer trajplan"),
        (b'{"format": "trajplan-plan", "version": 0}', "version"),
        (b'{"format": "trajplan-plan", "version": 1}', "missing"),
    ],
)
def test_what_is_no_plan_is_refused(tmp_path, content, word):
    path = tmp_path / "plan.json"
    path.write_bytes(content)
    with pytest.raises(PlanFileError) as caught:
        read_plan(path)
    assert caught.value.file == str(path)
    assert word in str(caught.value)
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize(
    ("change", "where", "word"),
    [
        (lambda d: d["screws"][0].update(gauge="28"), "screws 1.gauge", "number"),
        (lambda d: d["screws"][0].update(gauge=True), "screws 1.gauge", "number"),
        (lambda d: d["screws"][0].update(guage=28.0), "screws 1.guage", '"gauge"'),
        (lambda d: d["screws"][0]["thread"].pop("from"), "screws 1.thread.from", "missing"),
        (lambda d: d["screws"][0]["thread"].update(form=1), "screws 1.thread.form", '"from"'),
        (lambda d: d.pop("verdict"), "verdict", "missing"),
        (lambda d: d.update(verdict="fine"), "verdict", "'pass'"),
        (lambda d: d.update(unit="m"), "unit", "'mm'"),
        (lambda d: d["meshes"][0].update(sha256="x"), "meshes 1.sha256", "x"),
        (lambda d: d["meshes"][0].update(faces=-1), "meshes 1.faces", "not below 0"),
    ],
)
def test_a_damaged_plan_is_refused(tmp_path, change, where, word):
    path = tmp_path / "plan.json"
    write_plan(path, plan())
    data = json.loads(path.read_text("utf-8"))
    change(data)
    path.write_text(json.dumps(data), "utf-8")
    with pytest.raises(PlanFileError) as caught:
        read_plan(path)
    assert caught.value.where == where
    assert word in str(caught.value)


def test_missing_plan_and_missing_folder(tmp_path):
    with pytest.raises(PlanFileError, match="no such file"):
        read_plan(tmp_path / "plan.json")
    with pytest.raises(OutputError, match="does not exist"):
        write_plan(tmp_path / "none" / "plan.json", plan())
    with pytest.raises(OutputError, match="does not exist"):
        write_plan_csv(tmp_path / "none" / "plan.csv", plan())


def rows_of_table(tmp_path, *screws):
    write_plan_csv(tmp_path / "plan.csv", plan(screws=screws))
    with (tmp_path / "plan.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_table_has_one_row_a_screw(tmp_path):
    missed = ScrewRecord(id="screw 2", kind="HA4.5", technique="lag", direction=(0, 0, 1))
    first, second = rows_of_table(tmp_path, screw(), missed)
    assert (first["id"], first["length"], first["gauge"]) == ("screw 1", "32.0", "28.5")
    assert (first["entry_z"], first["direction_z"]) == ("0.333333", "1.0")
    assert (first["gliding_hole_diameter"], first["gliding_hole_to"]) == ("4.5", "14.9")
    assert (first["thread_from"], first["thread_to"]) == ("3.1", "31.0")
    assert first["fracture_depth_axis"] == "14.0"
    assert (first["near_cortex_thickness"], first["far_cortex_basis"]) == ("5.0", "unknown")
    assert first["intervals"] == "0..5 23..28"
    assert (second["id"], second["entry_x"], second["gauge"]) == ("screw 2", "", "")
    assert second["intervals"] == ""


def test_every_value_of_a_screw_reaches_the_table(tmp_path):
    full = screw(
        shank_hole=HoleRecord(diameter=4.5, start=0, end=9),
        washer="13.0",
        thread_length=32.0,
        score=0.9,
        unknown_intervals=((5.0, 6.0),),
        far_cortex=CortexRecord(thickness=5.5, basis="assumed"),
        head_area=34.4,
        **dict.fromkeys(FORCES, RangeRecord(low=1.0, estimate=2.0, high=3.0)),
        findings=[finding(word) for word in ("fail", "caution", "unknown", "note")],
    )
    row = rows_of_table(tmp_path, full)[0]
    assert [name for name, cell in row.items() if cell == ""] == []


def test_no_screw_gives_a_header(tmp_path):
    assert rows_of_table(tmp_path) == []
    assert (tmp_path / "plan.csv").read_text().startswith("id,kind,technique")


@pytest.mark.parametrize(
    ("verdicts", "worst"),
    [
        ([], "unknown"),
        (["pass"], "pass"),
        (["pass", "unknown"], "unknown"),
        (["caution", "unknown", "pass"], "caution"),
        (["caution", "fail", "unknown"], "fail"),
    ],
)
def test_table_gives_the_worst_verdict_and_names_the_rules(tmp_path, verdicts, worst):
    findings = [finding(verdict, rule=f"r{i}") for i, verdict in enumerate(verdicts)]
    row = rows_of_table(tmp_path, screw(findings=findings))[0]
    assert row["verdict"] == worst
    for word in ("fail", "caution", "unknown", "note"):
        assert row[word] == " ".join(f"r{i}" for i, v in enumerate(verdicts) if v == word)


def test_verdicts_weigh_as_they_do_in_the_checks():
    from trajplan.checks import Verdict
    from trajplan.files import TOLD

    assert tuple(verdict.word for verdict in sorted(Verdict, reverse=True)) == (*TOLD, "pass")


@pytest.mark.parametrize("words", [(), ("note",), ("note", "pass"), ("unknown", "note"), ("fail",)])
def test_the_worst_word_is_that_of_the_checks(words):
    from trajplan.checks import Verdict, worst
    from trajplan.files import worst_word

    by_word = {verdict.word: verdict for verdict in Verdict}
    found = worst_word([finding(word) for word in words], nothing="unknown")
    assert found == worst([by_word[word] for word in words]).word


def test_every_row_of_the_table_carries_the_cautions(tmp_path):
    rows = rows_of_table(tmp_path, screw(), screw(id="screw 2"))
    assert [row["cautions_of_plan"] for row in rows] == [CAUTION, CAUTION]


def test_a_blind_hole_has_no_gauge():
    """Also where a plan of an earlier version gave it one."""
    old = screw().model_dump(mode="json", by_alias=True) | {"hold": "unicortical", "gauge": 28.5}
    assert ScrewRecord.model_validate(old).gauge is None
    assert ScrewRecord.model_validate(old | {"hold": "bicortical"}).gauge == 28.5
    assert screw(hold=None).gauge == 28.5


def test_no_text_of_a_table_becomes_a_formula(tmp_path):
    write_plan_csv(tmp_path / "p.csv", plan(screws=(screw(id="=1+1"), screw(id="'-2"))))
    rows = list(csv.DictReader((tmp_path / "p.csv").read_text().splitlines()))
    assert [row["id"] for row in rows] == ["'=1+1", "''-2"]
    assert all(float(row["direction_x"]) == screw().direction[0] for row in rows)
