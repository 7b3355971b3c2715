"""Laws of manifests: whatever stands in one, every row is a job, and none spoils another."""

import csv
import io
from contextlib import suppress
from pathlib import Path

import pytest
from batch_cases import write_base
from hypothesis import given, settings
from hypothesis import strategies as st

from trajplan.batch import find_jobs
from trajplan.batch._cells import known_keys
from trajplan.errors import InputError, ManifestError
from trajplan.files import read_case

KEYS = sorted(known_keys())

#: Text that CSV can carry and that looks, often enough, like something.
wild = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r\n\0"), max_size=12),
    st.sampled_from(["base.toml", "1", "-3.5", "true", "[1, 2]", "nan", "..", "a/b", "HA4.5", '"']),
)
good = st.fixed_dictionaries(
    {},
    optional={
        "title": st.text("abc 12.é", min_size=1).map(str.strip).filter(bool),
        "screws.count": st.integers(1, 6),
        "limits.max_tilt": st.floats(0, 90, allow_subnormal=False),
        "bone.mesh": st.sampled_from(["bone0.stl", "bone1.stl"]),
        "screws.kinds": st.lists(st.sampled_from(["HA3.5", "HA4.5", "HB6.5"]), min_size=1),
    },
)


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    return write_base(tmp_path_factory.mktemp("manifests"))


def jobs_of(base, header, rows):
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows(rows)
    manifest = base.with_name("m.csv")
    manifest.write_text(text.getvalue(), encoding="utf-8", newline="")
    return find_jobs([manifest])


def cells(row, header):
    return [";".join(v) if isinstance(v := row.get(key, ""), list) else v for key in header]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(wild, min_size=4, max_size=6), max_size=6))
def test_any_table_is_jobs_or_one_refusal(base, rows):
    header = ["id", "case", "screws.kinds", "title", "fracture.plane.point"]
    try:
        jobs = jobs_of(base, header, rows)
    except ManifestError:
        assert not [row for row in rows if any(cell.strip() for cell in row)]
        return
    assert len(jobs) == len([row for row in rows if any(cell.strip() for cell in row)])
    assert len({job.id.casefold() for job in jobs}) == len(jobs)
    for job in jobs:
        assert Path(job.id).name == job.id
        assert not job.id.startswith(".")
        if not job.trouble:
            with suppress(InputError):
                job.read()


@settings(max_examples=60, deadline=None)
@given(st.lists(good, min_size=1, max_size=5))
def test_what_is_written_in_a_row_is_what_its_case_says(base, rows):
    header = ["case", *sorted({key for row in rows for key in row})]
    jobs = jobs_of(base, header, [cells({"case": "base.toml", **row}, header) for row in rows])
    for job, row in zip(jobs, rows, strict=True):
        case, plain = job.read(), read_case(base)
        assert case.title == row.get("title", plain.title)
        assert case.screws.count == row.get("screws.count", plain.screws.count)
        assert case.bone.mesh == row.get("bone.mesh", plain.bone.mesh)
        assert list(case.screws.kinds) == row.get("screws.kinds", list(plain.screws.kinds))
        assert case.limits["max_tilt"] == row.get("limits.max_tilt", plain.limits["max_tilt"])
        assert case.sha256 == read_case(base, job.changes).sha256
        assert (case.sha256 == plain.sha256) == (not row)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(good, min_size=1, max_size=3),
    st.lists(st.tuples(st.sampled_from(KEYS), wild), max_size=3),
)
def test_wrong_rows_change_nothing_of_right_ones(base, rows, wrong):
    header = ["case", *sorted({*(k for row in rows for k in row), *(k for k, _ in wrong)})]
    right = [cells({"case": "base.toml", **row}, header) for row in rows]
    spoilt = [cells({"case": "base.toml", key: cell}, header) for key, cell in wrong]
    alone, mixed = jobs_of(base, header, right), jobs_of(base, header, [*right, *spoilt])
    for job, other in zip(alone, mixed, strict=False):
        assert (job.id, job.changes, job.trouble) == (other.id, other.changes, other.trouble)
