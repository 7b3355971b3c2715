"""Batches as a user runs them: equal to single runs, interrupted, resumed, with bad rows."""

import csv
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from batch_cases import case_text, timeless, write_base, write_cases
from mesh_files import write

import trajplan
from trajplan.batch import Job, find_jobs
from trajplan.batch._work import do
from trajplan.cautions import CAUTION_TEXT
from trajplan.errors import OutputError, WorkerError
from trajplan.files import plan_json, read_case
from trajplan.planner import plan_case, plan_record

WITHIN = 60.0  # seconds, for what another process is to do on a busy machine


def plans(out):
    """Every plan below an output folder, without its date."""
    files = sorted(Path(out).glob("cases/**/plan.json"))
    return {file.parent.name: timeless(file.read_text(encoding="utf-8")) for file in files}


def singles(files):
    """The same by single runs."""
    made = ((file.stem, plan_record(plan_case(read_case(file)))) for file in files)
    return {name: timeless(plan_json(record)) for name, record in made}


def rows(path):
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def tables(out):
    return {path.name: path.read_bytes() for path in Path(out).glob("*.[cp]*") if path.is_file()}


def until(true):
    end = time.monotonic() + WITHIN
    while not true():
        assert time.monotonic() < end, "it took too long"
        time.sleep(0.05)


def test_results_are_those_of_single_runs_whoever_works(run, folder):
    files = write_cases(folder / "in", 6, bones=3)
    ways = {"one": ("--workers", 1), "two": ("--workers", 2),
            "dask": ("--cluster", "local", "--workers", 2)}  # fmt: skip
    for out, words in ways.items():
        answer = run("batch", "in", "-o", out, *words)
        assert answer.status == 0, answer.err
        assert answer.err.splitlines()[-1].startswith("6 of 6 cases")
        assert answer.out.startswith("6 cases: 6 done, 0 could not be worked on")
        assert CAUTION_TEXT in answer.out
    assert plans("one") == plans("two") == plans("dask") == singles(files)
    assert len(tables("one")) == 4
    assert tables("one") == tables("two") == tables("dask")
    assert [row["case"] for row in rows(folder / "one" / "cases.csv")] == [f.stem for f in files]


def test_a_batch_without_a_folder_hands_its_plans_over(folder):
    files = write_cases(folder, 3)
    outcomes = {outcome.id: outcome for outcome in trajplan.batch([*files], workers=1)}
    assert {name: timeless(o.text) for name, o in outcomes.items()} == singles(files)
    assert outcomes["case001"].plan.title == "number 1"
    assert {path.suffix for path in folder.iterdir()} == {".toml", ".stl"}


def test_rows_that_are_wrong_stop_no_other(run, folder):
    write_base(folder)
    lines = [f"r{i},base.toml,{10 + i},bone{i % 2}.stl," for i in range(10)]
    lines[3] = "r3,base.toml,steep,bone1.stl,"
    lines[7] = "r7,base.toml,10,nowhere.stl,"
    lines[8] += "axes.csv"
    head = "id,case,limits.max_tilt,bone.mesh,axes"
    (folder / "m.csv").write_text("\n".join([head, *lines]) + "\n")
    answer = run("batch", "m.csv", "-o", "out", "--json", "--workers", 1)
    assert answer.status == 2
    assert set(answer.json["failed"]) == {"r3", "r7"}
    assert (answer.json["cases"], answer.json["done"]) == (10, 8)
    table = {row["case"]: row for row in rows(folder / "out" / "cases.csv")}
    assert list(table) == [f"r{i}" for i in range(10)]
    assert table["r3"]["error"].startswith("base.toml, limits.max_tilt: found 'steep'")
    assert table["r7"]["error"].startswith("nowhere.stl: there is no such file")
    assert (table["r8"]["axes"], table["r8"]["implants"][:5]) == ("axes.csv", "HA4.5")
    page = (folder / "out" / "summary.html").read_text()
    assert "2 cases could not be worked on" in page
    # a row's plan leads back to its case, changes included
    assert run("view", "out/cases/r4/plan.json", "--shot", "r4.png").status == 0


def test_resume_does_only_what_is_left_or_changed(run, folder):
    files = write_cases(folder / "in", 4)
    assert run("batch", "in", "-o", "out", "--workers", 1).status == 0
    first = {f: f.stat().st_mtime_ns for f in folder.glob("out/cases/*/plan.json")}
    assert run("batch", "in", "-o", "out").status == 2
    write(files[2], case_text("changed", "bone1.stl", 15))
    answer = run("batch", "in", "-o", "out", "--resume", "--workers", 1)
    assert answer.status == 0
    assert answer.err.splitlines()[0] == "3 of 4 cases are finished already"
    again = {f.parent.name for f, when in first.items() if f.stat().st_mtime_ns != when}
    assert again == {"case002"}
    assert plans("out") == singles(files)
    assert rows(folder / "out" / "cases.csv")[2]["title"] == "changed"


def test_a_folder_of_results_is_not_written_over(run, folder):
    (folder / "out" / "cases").mkdir(parents=True)
    write_cases(folder, 1)
    answer = run("batch", "case000.toml", "-o", "out")
    assert (answer.status, answer.out) == (2, "")
    assert "--resume" in answer.err
    assert answer.err.count("\n") == 1


class Deadly:
    """What ends a worker process that takes it out of its wrapping, and no other process."""

    def __reduce__(self):
        code = "__import__('multiprocessing').parent_process() and __import__('os')._exit(1)"
        return eval, (code,)


def test_a_worker_that_dies_is_replaced_and_its_case_done_again(folder):
    write_cases(folder, 4)
    outcomes = trajplan.batch(folder, workers=1)
    done = [next(outcomes)]
    (worker,) = multiprocessing.active_children()
    os.kill(worker.pid, signal.SIGKILL)
    done += outcomes
    assert sorted(outcome.id for outcome in done) == [f"case00{i}" for i in range(4)]
    assert [outcome.error for outcome in done] == [""] * 4


def test_a_case_that_kills_its_workers_is_told_and_no_other_is_blamed(folder):
    files = write_cases(folder, 3)
    jobs = [*find_jobs([folder]), Job("deadly", files[0], {"title": Deadly()})]
    outcomes = {o.id: o for o in trajplan.batch(jobs, workers=2)}
    assert "died 2 times at this case" in outcomes.pop("deadly").error
    assert [outcome.error for outcome in outcomes.values()] == [""] * 3


@pytest.mark.parametrize(
    ("bound", "why"),
    [
        ({"timeout": 5}, "longer than the 5 s"),
        ({"memory": 400}, "more memory than the 400 MB"),
        ({"timeout": 5, "cluster": "local"}, "the worker died at this case each time"),
    ],
)
def test_a_case_past_its_bounds_is_told_and_the_rest_done(folder, bound, why):
    files = write_cases(folder, 3)
    heavy = files[1].read_text().replace("candidates = 50", "candidates = 100000")
    write(files[1], heavy.replace("ring = 8", "ring = 128"))
    outcomes = {o.id: o for o in trajplan.batch(folder, workers=1, **bound)}
    assert why in outcomes["case001"].error
    assert (outcomes["case000"].error, outcomes["case002"].error) == ("", "")


def test_a_bound_that_cannot_be_kept_is_refused(folder):
    write_cases(folder, 1)
    for memory, cluster in ((100, None), (1000, "tcp://127.0.0.1:1")):
        with pytest.raises(WorkerError, match=r"MB are too few|memory of workers"):
            list(trajplan.batch(folder, memory=memory, cluster=cluster))


UNGUARDED = """
import trajplan
for outcome in trajplan.batch("case000.toml", workers=1):
    print(outcome.id, outcome.status)
"""


def python(*words):
    done = subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False, timeout=WITHIN
    )
    return done.stdout, done.stderr


def test_a_notebook_needs_no_guard_and_a_script_is_told_of_it(folder):
    write_cases(folder, 1)
    assert python("-c", UNGUARDED)[0] == "case000 done\n"  # no file, as in a notebook
    write(folder / "script.py", UNGUARDED)
    out, told = python("script.py")
    assert out == ""
    assert 'below `if __name__ == "__main__":`' in told.splitlines()[-1]


def test_workers_of_a_cluster_that_do_not_start(folder, monkeypatch):
    def fails(**_):
        raise RuntimeError("Nanny failed to start.")

    write_cases(folder, 1)
    monkeypatch.setattr("distributed.LocalCluster", fails)
    with pytest.raises(WorkerError, match="die while they start"):
        list(trajplan.batch("case000.toml", cluster="local"))


def test_a_cluster_on_this_machine_takes_nobody_without_its_certificate(folder, monkeypatch):
    import distributed

    write_cases(folder, 1)
    seen = []
    made = distributed.Client

    def client(cluster, **words):
        seen.append(cluster.scheduler_address)
        with pytest.raises((OSError, TypeError)), made(cluster.scheduler_address, timeout=3):
            seen.append("let in")
        return made(cluster, **words)

    monkeypatch.setattr("distributed.Client", client)
    (outcome,) = trajplan.batch("case000.toml", cluster="local", workers=1)
    assert outcome.error == ""
    assert [address.partition("://")[0] for address in seen] == ["tls"]


def test_no_scheduler(run, folder, monkeypatch):
    monkeypatch.setattr("trajplan.batch._cluster.PATIENCE", 0.5)
    write_cases(folder, 1)
    answer = run("batch", "case000.toml", "--cluster", "tcp://127.0.0.1:1", "-o", "out")
    assert answer.status == 2
    assert "no scheduler answers at tcp://127.0.0.1:1" in answer.err.splitlines()[-1]


def test_a_mesh_that_breaks_on_the_way(folder):
    files = write_cases(folder, 6)
    whole = (folder / "bone1.stl").read_bytes()
    outcomes = trajplan.batch(files, workers=1, out="out")
    done = [next(outcomes)]
    write(folder / "bone1.stl", whole[:999])
    done += outcomes
    failed = {outcome.id for outcome in done if outcome.status == "failed"}
    assert {"case003", "case005"} <= failed <= {"case001", "case003", "case005"}
    assert all(o.error.startswith("bone1.stl") for o in done if o.error)
    assert set(plans("out")) == {f"case00{i}" for i in range(6)} - failed
    write(folder / "bone1.stl", whole)
    assert [o.error for o in trajplan.batch(files, workers=1, out="out", resume=True)] == [""] * 6
    assert plans("out") == singles(files)


def test_a_full_disk_keeps_what_is_finished(run, folder, monkeypatch):
    files = write_cases(folder / "in", 4)
    with monkeypatch.context() as patch:
        full_after(patch, 2)
        answer = run("batch", "in", "-o", "out")
    assert answer.status == 2
    assert "nothing more can be written" in answer.err.splitlines()[-1]
    assert "--resume" in answer.err.splitlines()[-1]
    assert set(plans("out")) == {"case000", "case001"}
    states = [row["status"] for row in rows(folder / "out" / "cases.csv")]
    assert states == ["done", "done", "failed", "not run"]
    assert "1 not run" in (folder / "out" / "summary.html").read_text()
    assert run("batch", "in", "-o", "out", "--resume", "--workers", 1).status == 0
    assert plans("out") == singles(files)


def full_after(patch, cases):
    """Let the disk be full for the files of later cases; work in this process."""

    def write_some(path, text, written=[]):  # noqa: B006 - counts the calls
        written.append(path)
        if len({file.parent for file in written}) > cases:
            raise OutputError("no", remedy="mend it", file=path) from OSError(28, "full")
        path.write_text(text, encoding="utf-8")

    patch.setattr("trajplan.batch._work.write_text_atomic", write_some)
    in_this_process = lambda jobs, workers, orders: (do(job, orders) for job in jobs)  # noqa: E731
    patch.setattr("trajplan.batch._batch.run_local", in_this_process)


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGKILL"])
def test_a_run_that_is_ended_keeps_what_is_finished(run, folder, name):
    files = write_cases(folder / "in", 11)
    words = [sys.executable, "-m", "trajplan", "batch", "in", "-o", "out", "--workers", "2"]
    process = subprocess.Popen(
        words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True
    )
    until(lambda: len(list(folder.glob("out/cases/*/result.json"))) >= 4)  # one may be under way
    process.send_signal(getattr(signal, name))
    _, told = process.communicate(timeout=WITHIN)
    until(lambda: nobody_left(process.pid))
    finished = plans("out")
    assert 3 <= len(finished) < 11
    if name != "SIGKILL":
        assert process.returncode == 130, told
        assert b"Traceback" not in told
        states = [row["status"] for row in rows(folder / "out" / "cases.csv")]
        assert len(finished) == states.count("done") == 11 - states.count("not run")
    if name == "SIGTERM":  # as SIGINT from here on
        return
    answer = run("batch", "in", "-o", "out", "--resume", "--workers", 1)
    assert answer.status == 0
    assert int(answer.err.split()[0]) >= 3
    assert plans("out") == singles(files)
    assert json.loads((folder / "out/cases/case000/source.json").read_text())["case"]


def nobody_left(group):
    """Whether every process of a group is gone; those that ended but were not asked count so."""
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) == group and fields[0] != "Z":
            return False
    return True
