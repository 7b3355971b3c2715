"""A result rests on every file that its case names: where one changes, it is worked out anew."""

import pytest

from trajplan.batch._inputs import fingerprints
from trajplan.files import read_case

CASE = """\
unit = "mm"
catalogue = ["own.toml", "more.toml"]
[bone]
fragments = ["lower.stl", "upper.stl"]
ct = "ct.nii.gz"
[fracture]
mesh = "fracture.stl"
[[joint]]
name = "hip"
mesh = "hip.stl"
[[avoid]]
name = "nerve"
mesh = "nerve.stl"
[screws]
count = 1
kinds = ["HA4.5"]
"""
NAMED = (
    *("own.toml", "more.toml", "lower.stl", "upper.stl", "ct.nii.gz"),
    *("fracture.stl", "hip.stl", "nerve.stl"),
)


@pytest.fixture
def case(tmp_path):
    for name in (*NAMED, "reduction.json", "axes.csv"):
        (tmp_path / name).write_text(name)
    (tmp_path / "case.toml").write_text(CASE)
    return tmp_path / "case.toml"


@pytest.mark.parametrize("name", NAMED)
def test_a_file_that_changes_is_seen(case, name):
    before = fingerprints(read_case(case), None)
    (case.parent / name).write_text("something else")
    after = fingerprints(read_case(case), None)
    assert {key for key in before if before[key] != after[key]} == {name}


def test_a_reduction_that_changes_is_seen(case):
    fragments = 'fragments = ["lower.stl", "upper.stl"]\n'
    case.write_text(CASE.replace(fragments, fragments + 'reduction = "reduction.json"\n')
                    .replace('ct = "ct.nii.gz"\n', ""))  # fmt: skip
    before = fingerprints(read_case(case), None)
    (case.parent / "reduction.json").write_text("{}")
    after = fingerprints(read_case(case), None)
    assert {key for key in before if before[key] != after[key]} == {"reduction.json"}


def test_case_and_table_that_change_are_seen(case):
    axes = case.parent / "axes.csv"
    before = fingerprints(read_case(case), axes)
    case.write_text(CASE.replace("count = 1", "count = 2"))
    axes.write_text("other lines")
    after = fingerprints(read_case(case), axes)
    assert {key for key in before if before[key] != after[key]} == {"case", "axes"}


def test_every_slice_of_a_series_counts(case):
    folder = case.parent / "series"
    folder.mkdir()
    for number in range(3):
        (folder / f"{number}.dcm").write_text(str(number))
    case.write_text(CASE.replace('"ct.nii.gz"', '"series"'))
    before = fingerprints(read_case(case), None)
    (folder / "1.dcm").write_text("one")
    (folder / "3.dcm").write_text("new")
    after = fingerprints(read_case(case), None)
    changed = {key for key in after if before.get(key) != after[key]}
    assert changed == {"series/1.dcm", "series/3.dcm"}
