"""Files, folders, patterns and cases in memory become jobs with names of their own."""

import os

import pytest
from batch_cases import write_base, write_cases
from builders import case_of

from trajplan.batch import Job, find_jobs
from trajplan.errors import CaseError
from trajplan.files import read_case


def names(cases):
    return [job.id for job in find_jobs(cases)]


def test_a_folder_is_every_case_below_it(tmp_path):
    write_cases(tmp_path / "a", 2)
    write_cases(tmp_path / "b", 1)
    assert names([tmp_path]) == ["a/case000", "a/case001", "b/case000"]


def test_a_pattern_absolute_or_relative(tmp_path, monkeypatch):
    write_cases(tmp_path, 3)
    monkeypatch.chdir(tmp_path)
    assert names(["case*1.toml"]) == names([f"{tmp_path}/case*1.toml"]) == ["case001"]
    assert names(["**/case00[02].toml"]) == ["case000", "case002"]


def test_a_file_named_twice_comes_once(tmp_path, monkeypatch):
    (case,) = write_cases(tmp_path, 1)
    monkeypatch.chdir(tmp_path)
    assert names([case, "case000.toml", tmp_path, "*.toml"]) == ["case000"]


def test_paths_are_absolute_so_that_a_worker_elsewhere_finds_them(tmp_path, monkeypatch):
    write_cases(tmp_path, 1)
    monkeypatch.chdir(tmp_path)
    (job,) = find_jobs(["case000.toml"])
    assert job.case.is_absolute()
    os.chdir("/")
    assert job.read().title == "number 0"


@pytest.mark.parametrize("word", ["nowhere.toml", "nothing/*.toml", "empty"])
def test_what_stands_for_nothing_is_refused(tmp_path, monkeypatch, word):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    with pytest.raises(CaseError, match=word.split("/")[0]):
        find_jobs([word])


def test_no_case_at_all_is_refused():
    with pytest.raises(CaseError, match="no case was given"):
        find_jobs([])


def test_a_manifest_is_told_from_a_case(tmp_path):
    base = write_base(tmp_path)
    (tmp_path / "m.toml").write_text('base = "base.toml"\n[[row]]\nid = "a"\n[[row]]\nid = "b"\n')
    (tmp_path / "m.csv").write_text("id,case\nc,base.toml\n")
    assert names([tmp_path / "m.toml", tmp_path / "m.csv", base]) == ["a", "b", "c", "base"]


def test_a_broken_file_is_a_job_that_says_so_later(tmp_path):
    (tmp_path / "broken.toml").write_text("this is no TOML")
    (job,) = find_jobs([tmp_path])
    assert job.id == "broken"
    with pytest.raises(CaseError, match="this is not TOML"):
        job.read()


def test_a_name_that_is_taken_is_trouble_for_the_later_one():
    first, second, third = find_jobs([Job("a", None), Job("A", None), Job("a", None)])
    assert not first.trouble
    assert 'the name "A" is taken' in second.trouble
    assert len({job.id.casefold() for job in (first, second, third)}) == 3


def test_cases_in_memory(tmp_path):
    (file,) = write_cases(tmp_path, 1)
    read, made = find_jobs([read_case(file), case_of()])
    assert (read.id, made.id) == ("case000", "case-0002")
    assert made.read() == case_of()
