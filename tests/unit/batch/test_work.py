"""One case in this process: what is written, what goes wrong, what is trusted later."""

import errno
import json
import os
import re
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from batch_cases import case_text, timeless, write_base, write_cases
from mesh_files import stl_bytes, write
from specimens import tube

from tests.reduced_cases import solved
from tests.reduced_cases import write_case as write_reduced_case
from trajplan.batch import Job, find_jobs
from trajplan.batch._bounds import memory_of, threads_bound
from trajplan.batch._inputs import fingerprints
from trajplan.batch._outcome import _seal, trusted
from trajplan.batch._program import program_mark
from trajplan.batch._work import Orders, do
from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._reducing import write_reduced
from trajplan.errors import OutputError
from trajplan.files import plan_json, read_axes, read_case, read_plan
from trajplan.planner import check_axes, plan_case, plan_record, reduce_case


@pytest.fixture
def job(tmp_path):
    write_cases(tmp_path, 1)
    return find_jobs([tmp_path / "case000.toml"])[0]


@pytest.fixture
def orders(tmp_path):
    return Orders(out=tmp_path / "out", program=program_mark())


def single(job):
    return timeless(plan_json(plan_record(plan_case(job.read()))))


def test_the_plan_is_that_of_a_single_run(job, orders):
    outcome = do(job, orders)
    folder = orders.out / "cases" / "case000"
    assert (outcome.status, outcome.error, outcome.text) == ("done", "", None)
    assert timeless((folder / "plan.json").read_text()) == single(job)
    assert {file.name for file in folder.iterdir()} == {
        "plan.json", "plan.txt", "source.json", "result.json",
    }  # fmt: skip
    assert outcome.plan == read_plan(folder / "plan.json")
    assert CAUTION_TEXT.split(".")[0] in (folder / "plan.txt").read_text()
    source = folder / json.loads((folder / "source.json").read_text())["case"]
    assert source.resolve() == job.case


def test_without_a_folder_the_plan_is_handed_back(job):
    outcome = do(job, Orders())
    assert timeless(outcome.text) == single(job)
    assert outcome.plan.case.sha256 == job.read().sha256


def test_axes_of_a_row_are_checked(tmp_path):
    base = write_base(tmp_path)
    (tmp_path / "m.csv").write_text("id,case,axes,limits.max_tilt\na,base.toml,axes.csv,5\n")
    (row,) = find_jobs([tmp_path / "m.csv"])
    outcome = do(row, Orders())
    case = read_case(base, {"limits": {"max_tilt": 5}})
    checked = plan_record(check_axes(case, read_axes(tmp_path / "axes.csv", "mm")))
    assert timeless(outcome.text) == timeless(plan_json(checked))
    assert (outcome.row["verdict"], outcome.row["axes"]) == ("fail", "axes.csv")
    assert outcome.rules["tilt"] == {"fail": 1}


def test_cases_of_one_mesh_do_not_get_each_others_bone(tmp_path):
    vertices, faces = tube(sides=24)
    write(tmp_path / "bone.stl", stl_bytes((vertices, faces[:-1])))  # torn
    for name, low in (("low.stl", 0.0), ("high.stl", 101.0)):
        write(tmp_path / name, stl_bytes((np.add(vertices, [0.0, 0.0, low]), faces)))
    base = write(tmp_path / "base.toml", case_text("one mesh", "bone.stl", 20))
    parts = ["low.stl", "high.stl"]
    bones = [{}, {"repair": ["holes"]}, {"cortex": 3.0}, {"repair": ["winding", "holes"]},
             {"fragments": parts}, {"fragments": parts[::-1]}, {"repair": ["merge"]}]  # fmt: skip
    between = {"fracture": {"plane": {"point": [0, 0, 100.5], "normal": [0.1, 0, 1]}}}
    jobs = [
        Job(str(number), base, {"bone": bone} | (between if "fragments" in bone else {}))
        for number, bone in enumerate(bones)
    ]
    alone = [single(job) for job in jobs]
    assert len({re.sub('"sha256".*', "", text) for text in alone}) == len(jobs)
    for job, text in [*zip(jobs, alone, strict=True)] * 2:
        assert timeless(do(job, Orders()).text) == text


def test_what_is_wrong_with_a_case_names_no_folder(job, orders, tmp_path):
    write(tmp_path / "bone0.stl", b"junk")
    outcome = do(job, orders)
    assert outcome.status == "failed"
    assert outcome.error.startswith("bone0.stl")
    assert str(tmp_path) not in outcome.error
    assert outcome.row["error"] == outcome.error
    assert outcome.row["cautions_of_plan"] == CAUTION_TEXT


def test_a_bug_is_the_trouble_of_one_case(job, monkeypatch):
    def broken(case, **options):
        raise RuntimeError("a screw came loose")

    monkeypatch.setattr("trajplan.batch._work.plan_case", broken)
    assert "the program broke (RuntimeError: a screw came loose)" in do(job, Orders()).error


def test_a_mesh_that_changes_while_it_is_worked_on(job, monkeypatch, tmp_path):
    def meddling(case, **options):
        plan = plan_case(case, **options)
        os.utime(tmp_path / "bone0.stl", ns=(0, 1))
        write(tmp_path / "bone0.stl", b"other")
        return plan

    monkeypatch.setattr("trajplan.batch._work.plan_case", meddling)
    assert "changed while it was worked on" in do(job, Orders()).error


def test_a_worker_of_another_version_refuses(job):
    assert "install the same everywhere" in do(job, Orders(program="0.0.0")).error


@pytest.mark.parametrize(("number", "stop"), [(errno.ENOSPC, True), (errno.EACCES, False)])
def test_a_full_disk_stops_the_run_and_other_trouble_does_not(
    job, orders, monkeypatch, number, stop
):
    def failing(path, text):
        error = OSError(number, "no")
        raise OutputError("the file cannot be written", remedy="mend it", file=path) from error

    monkeypatch.setattr("trajplan.batch._work.write_text_atomic", failing)
    outcome = do(job, orders)
    assert (outcome.status, outcome.stop) == ("failed", stop)


def test_a_folder_that_cannot_be_made(job, orders):
    write(orders.out, "a file")
    assert "cannot be made ready" in do(job, orders).error


def test_what_an_earlier_run_left_is_gone_before_a_case_fails(job, orders, tmp_path):
    do(job, orders)
    folder = orders.out / "cases" / "case000"
    write(folder / ".plan.json.ab12.part", "half")
    write(tmp_path / "bone0.stl", b"junk")
    assert do(job, orders).status == "failed"
    assert list(folder.iterdir()) == []


class TestTrust:
    @pytest.fixture(autouse=True)
    def done(self, job, orders):
        self.outcome = do(job, orders)
        self.folder = orders.out / "cases" / "case000"

    def trusted(self, job, orders, mark=None):
        return trusted(job, orders.out, mark or program_mark())

    def test_an_untouched_result(self, job, orders):
        again = self.trusted(job, orders)
        assert again.receipt() == self.outcome.receipt()

    def test_a_changed_case(self, job, orders, tmp_path):
        (tmp_path / "case000.toml").write_text(job.case.read_text() + "\n# a remark\n")
        assert self.trusted(job, orders) is None

    def test_a_changed_row(self, job, orders):
        assert self.trusted(replace(job, changes={"title": "x"}), orders) is None

    def test_a_changed_mesh(self, job, orders, tmp_path):
        content = (tmp_path / "bone0.stl").read_bytes()
        write(tmp_path / "bone0.stl", b"X" + content[1:])
        assert self.trusted(job, orders) is None

    def test_a_missing_mesh(self, job, orders, tmp_path):
        (tmp_path / "bone0.stl").unlink()
        assert self.trusted(job, orders) is None

    def test_a_case_that_no_system_takes_for_a_file(self, job, orders, tmp_path):
        assert self.trusted(replace(job, case=tmp_path / "\0"), orders) is None

    def test_axes_instead_of_a_plan(self, job, orders, tmp_path):
        write_base(tmp_path)
        assert self.trusted(replace(job, axes=tmp_path / "axes.csv"), orders) is None

    def test_another_program(self, job, orders):
        assert self.trusted(job, orders, "0.0.0") is None

    @pytest.mark.parametrize("name", ["plan.json", "plan.txt", "result.json"])
    def test_a_missing_file(self, job, orders, name):
        (self.folder / name).unlink()
        assert self.trusted(job, orders) is None

    @pytest.mark.parametrize("name", ["plan.json", "plan.txt", "source.json", "result.json"])
    def test_an_edited_file(self, job, orders, name):
        text = (self.folder / name).read_text()
        changed = text.replace("caution", "pass").replace("case000", "case001")
        assert changed != text
        (self.folder / name).write_text(changed)
        assert self.trusted(job, orders) is None

    @pytest.mark.parametrize("text", ["", "[]", "{}", '{"id": 3}', "[" * 100_000])
    def test_a_broken_receipt(self, job, orders, text):
        (self.folder / "result.json").write_text(text)
        assert self.trusted(job, orders) is None

    def test_a_receipt_of_the_wrong_types(self, job, orders):
        receipt = json.loads((self.folder / "result.json").read_text())
        path = self.folder / "result.json"
        for wrong in (
            {"screws": "none"},
            {"screws": [3]},
            {"rules": {"tilt": 3}},
            {"rules": {"tilt": {"fail": "1"}}},
            {"row": []},
            {"inputs": {"case": None}},
            {"seconds": "long"},
            {"digests": {}},
            {"digests": {"plan.json": 1}},
        ):
            changed = {k: v for k, v in (receipt | wrong).items() if k != "sha256"}
            path.write_text(json.dumps(changed | {"sha256": _seal(changed)}))
            assert self.trusted(job, orders) is None, wrong
        path.write_text(json.dumps(receipt))
        assert self.trusted(job, orders) is not None


def test_the_mark_of_the_program_changes_with_its_code(tmp_path, monkeypatch):
    package = tmp_path / "trajplan"
    (package / "batch").mkdir(parents=True)
    monkeypatch.setattr("trajplan.batch._program.__file__", str(package / "batch" / "_program.py"))
    marks = []
    for code in ("a = 1", "a = 2", "a = 1"):
        (package / "code.py").write_text(code)
        marks.append(program_mark.__wrapped__())
    assert marks[0] == marks[2] != marks[1]
    (package / "code.py").rename(package / "other.py")
    assert program_mark.__wrapped__() not in marks


def test_a_pipe_in_place_of_a_mesh_keeps_nobody_waiting(job, tmp_path):
    (tmp_path / "bone0.stl").unlink()
    os.mkfifo(tmp_path / "bone0.stl")
    assert "this is a pipe, not a file" in do(job, Orders()).error


def test_the_bound_on_time_ends_a_process_that_hangs():
    code = (
        "import time; from trajplan.batch._bounds import time_bound\n"
        "with time_bound(0.2): time.sleep(60)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, timeout=50)
    assert done.returncode == 1


def test_the_bound_on_time_holds_for_reading_the_case(job, tmp_path):
    code = (
        "import sys, time; from pathlib import Path\n"
        "import trajplan.batch._jobs as jobs; from trajplan.batch._work import Orders, do\n"
        "jobs.read_case = lambda *_: time.sleep(60)\n"
        "do(jobs.Job('a', Path(sys.argv[1])), Orders(timeout=0.2))"
    )
    done = subprocess.run([sys.executable, "-c", code, job.case], check=False, timeout=50)
    assert done.returncode == 1


def test_the_bound_on_threads_is_lifted_again():
    import numba

    before = numba.get_num_threads()
    with threads_bound(1):
        assert numba.get_num_threads() == 1
    assert numba.get_num_threads() == before
    with threads_bound(10_000):
        assert numba.get_num_threads() == numba.config.NUMBA_NUM_THREADS


def test_memory_is_that_of_the_system_books():
    from resource import RUSAGE_SELF, getrusage

    # getrusage(2): ru_maxrss is the most that was ever held, in kibibytes
    most = getrusage(RUSAGE_SELF).ru_maxrss * 1024 / 1e6
    assert 0.2 * most < memory_of(os.getpid()) < 1.05 * most
    assert memory_of(2**30) == 0.0


def test_a_case_on_reduced_fragments_rests_on_its_record_too(tmp_path):
    """Where the record of the reduction is another, what was planned on it is no longer trusted."""
    reduced = reduce_case(write_reduced_case(tmp_path), solve=solved())
    write_reduced(reduced, tmp_path / "reduced", picture=False)
    (job,) = find_jobs([tmp_path / "reduced" / "case.toml"])
    outcome = do(job, Orders(out=tmp_path / "out", program=program_mark()))
    assert (outcome.status, outcome.error) == ("done", "")
    assert outcome.plan.reduction.trusted
    assert [screw.as_it_lies is not None for screw in outcome.plan.screws] == [True]
    before = fingerprints(job.read(), None)
    record = tmp_path / "reduced" / "reduction.json"
    record.write_text(record.read_text().replace('"created": "2', '"created": "1'))
    after = fingerprints(job.read(), None)
    assert [key for key in before if before[key] != after[key]] == ["reduction.json"]
