"""The record of a reduction: schema, round trip, refusals; and TOML as it is written."""

import json
import tomllib
from importlib import resources

import pytest

from tests.reduced_cases import solved, write_case
from trajplan import files
from trajplan.errors import PlanFileError
from trajplan.files import (
    is_reduction,
    read_reduction,
    reduction_schema,
    toml_text,
    write_reduction,
)
from trajplan.planner import reduce_case, reduced_files, reduction_record


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    folder = tmp_path_factory.mktemp("record")
    reduced = reduce_case(write_case(folder), solve=solved())
    return reduction_record(reduced, reduced_files(reduced, folder)[0])


def test_what_is_read_is_what_was_written(record, tmp_path):
    write_reduction(tmp_path / "reduction.json", record)
    assert read_reduction(tmp_path / "reduction.json") == record
    assert is_reduction(tmp_path / "reduction.json")


def test_the_shipped_schema_is_that_of_the_models():
    text = resources.files(files).joinpath("reduction.schema.json").read_text("utf-8")
    assert json.loads(text) == reduction_schema()


def test_the_schema_asks_for_every_key_that_is_written(record):
    data = json.loads(record.model_dump_json(by_alias=True))
    assert set(reduction_schema()["required"]) == set(data)


def test_the_digest_leaves_out_the_time_alone(record):
    later = record.model_copy(update={"created": "2000-01-01T00:00:00+00:00"})
    other = record.model_copy(update={"frame": "RAS"})
    assert later.digest == record.digest
    assert other.digest != record.digest


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"version": 1', '"version": 2', "newer trajplan"),
        ('"trajplan-reduction"', '"trajplan-plan"', "there is no .format"),
        ('"fixed": true', '"fixed": false', "not one fragment is fixed"),
        ('"contact": 0.8', '"contact": 0.9', "digest"),
        ('"case_unit": "mm"', '"case_unit": "ell"', "case_unit"),
    ],
)
def test_what_is_wrong_is_refused(record, tmp_path, old, new, said):
    write_reduction(tmp_path / "reduction.json", record)
    text = (tmp_path / "reduction.json").read_text()
    assert old in text
    (tmp_path / "reduction.json").write_text(text.replace(old, new))
    with pytest.raises(PlanFileError, match=said):
        read_reduction(tmp_path / "reduction.json")


def test_other_files_are_no_reduction(tmp_path):
    (tmp_path / "a.json").write_text("[]")
    (tmp_path / "b.json").write_bytes(b"\xff")
    assert not any(is_reduction(tmp_path / name) for name in ("a.json", "b.json", "none.json"))


@pytest.mark.parametrize(
    "data",
    [
        {"title": 'a "quoted" \\ name\nand line', "unit": "mm", "on": True, "n": 3, "x": 1e-05},
        {"bone": {"fragments": ["a.stl", "b c.stl"], "cortex": 2.5}},
        {"joint": [{"name": "top", "points": [[1.0, 2.0, 3.0]]}, {"name": "Gelenkfl\u00e4che"}]},
        {"screws": {"approach": {"direction": [1.0, 0.0, 0.0], "cone": 60.0}}},
        {"limits": {"odd key": 1.0, "": 2.0}, "empty": []},
        {"sign": "\x7f \u2028"},
    ],
)
def test_toml_that_is_written_is_read_back(data):
    assert tomllib.loads(toml_text(data)) == data
