"""Check batches at length: each way of running equals single runs, whatever dies on the way.

usage: python scripts/check_batch.py [--tubes N] [--real N]

The cases are those of ``scripts/many_cases.py``: N quick ones on invented tubes, N on real and
demonstration bones. Plans are compared byte for byte save ``created``, tables byte for byte.
Ends with a message at the first difference. The disk is filled on a small tmpfs, which only root
may mount; for others that part is left out, and said.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from many_cases import write_cases, write_tubes

from trajplan.batch import find_jobs
from trajplan.files import plan_json
from trajplan.planner import plan_case, plan_record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

#: Size of the disk that is full before the cases are done.
DISK = "1m"


def main() -> None:
    """Run all checks."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tubes", type=int, default=500)
    parser.add_argument("--real", type=int, default=24)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        tubes = write_tubes(folder / "tubes", args.tubes)
        equal_ways(folder / "out of tubes", tubes, singles(tubes))
        inputs = write_cases(folder / "in", args.real, candidates=50, draws=20)
        right = singles(inputs)
        whole = equal_ways(folder / "out", inputs, right)
        mesh = inputs[0] / "radius" / "radius.stl"
        content = mesh.read_bytes()
        for trouble in (kill_worker, kill_run, interrupt, lambda run: break_mesh(run, mesh)):
            out = folder / "troubled"
            troubled(trouble, inputs, out, right)
            mesh.write_bytes(content)
            resumed(inputs, out, right, whole)
        if os.getuid() == 0:
            full_disk(folder / "disk", inputs, right, whole)
        else:
            print("left out: the full disk, for only root may mount a small one")


def check(true: bool, words: str) -> None:
    """End the script where something is not as it should be."""
    if not true:
        sys.exit(f"WRONG: {words}")


def timeless(text: str) -> str:
    """A plan without the one field that may differ."""
    return re.sub(r'"created": "[^"]*"', "", text)


def singles(inputs: Sequence[Path]) -> dict[str, str]:
    """Every case alone, with no bone kept: id -> plan."""
    begin, jobs = time.perf_counter(), find_jobs(inputs)
    made = {job.id: timeless(plan_json(plan_record(plan_case(job.read())))) for job in jobs}
    print(f"single runs: {len(made)} cases in {time.perf_counter() - begin:.0f} s", flush=True)
    return made


def start(inputs: Sequence[Path], out: Path, *words: str) -> subprocess.Popen[str]:
    """Start the command, as the head of a group of its own."""
    call = [sys.executable, "-m", "trajplan", "batch", *map(str, inputs), "-o", str(out), *words]
    return subprocess.Popen(
        call,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        # a shell lets what it starts in the background ignore Ctrl-C
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # noqa: PLW1509 - no threads
    )


def plans(out: Path) -> dict[str, str]:
    """Plans of an output folder: id -> plan."""
    cases = out / "cases"
    files = cases.glob("**/plan.json")
    return {f.parent.relative_to(cases).as_posix(): timeless(f.read_text()) for f in files}


def tables(out: Path) -> dict[str, bytes]:
    """The tables of an output folder."""
    return {f.name: f.read_bytes() for f in out.iterdir() if f.suffix in {".csv", ".parquet"}}


def equal_ways(folder: Path, inputs: Sequence[Path], right: dict[str, str]) -> dict[str, bytes]:
    """One worker, two, and a local cluster of two."""
    ways = {
        "1 worker": ("--workers", "1"),
        "2 workers": ("--workers", "2"),
        "local cluster of 2": ("--cluster", "local", "--workers", "2"),
    }
    whole: dict[str, bytes] = {}
    for name, words in ways.items():
        begin, out = time.perf_counter(), folder / name
        _, told = (run := start(inputs, out, *words)).communicate()
        check(run.returncode in {0, 1}, f"{name}: {told}")
        check(plans(out) == right, f"{name}: plans are not those of single runs")
        whole = whole or tables(out)
        check(tables(out) == whole, f"{name}: tables differ")
        print(f"{name}: the same, in {time.perf_counter() - begin:.0f} s", flush=True)
    return whole


def troubled(
    trouble: Callable[[subprocess.Popen[str]], tuple[str, set[int]]],
    inputs: Sequence[Path],
    out: Path,
    right: dict[str, str],
) -> None:
    """Run with some trouble at a quarter of the cases; look at what it leaves."""
    run = start(inputs, out, "--workers", "2")
    while run.poll() is None and len(list(out.glob("cases/**/result.json"))) < len(right) // 4:
        time.sleep(0.02)
    check(run.poll() is None, "the run was over before the trouble came")
    words, statuses = trouble(run)
    _, told = run.communicate()
    check(run.returncode in statuses, f"{words}: status {run.returncode}: {told}")
    left = plans(out)
    check(all(right[name] == text for name, text in left.items()), f"{words}: a plan differs")
    check(not list(out.glob("**/.*.part")) or run.returncode < 0, f"{words}: half files are left")
    if run.returncode >= 0:
        tells_the_truth(out, left, len(right))
    print(f"{words}: status {run.returncode}, {len(left)} of {len(right)} plans", flush=True)


def tells_the_truth(out: Path, left: dict[str, str], count: int) -> None:
    """Table and page say what is there."""
    with (out / "cases.csv").open(encoding="utf-8", newline="") as stream:
        rows = {row["case"]: row["status"] for row in csv.DictReader(stream)}
    check(len(rows) == count, "a case has no row")
    done = {name for name, status in rows.items() if status == "done"}
    check(done == set(left), "the table does not say what is there")
    failed = sum(status == "failed" for status in rows.values())
    words = f"{len(done)} done, {failed} could not be worked on"
    check(words in (out / "summary.html").read_text(), f"the page does not say {words}")


def resumed(
    inputs: Sequence[Path], out: Path, right: dict[str, str], whole: dict[str, bytes]
) -> None:
    """Go on, end up with the same, and clear up."""
    kept = {f: f.stat().st_mtime_ns for f in out.glob("cases/**/plan.json")}
    _, told = (run := start(inputs, out, "--workers", "2", "--resume")).communicate()
    check(run.returncode in {0, 1}, told)
    check(plans(out) == right, "resumed: plans are not those of single runs")
    check(tables(out) == whole, "resumed: tables differ")
    again = sum(f.stat().st_mtime_ns != when for f, when in kept.items())
    print(f"    resumed: the same; {again} of {len(kept)} plans done again", flush=True)
    for file in sorted(out.glob("**/*"), reverse=True):
        file.rmdir() if file.is_dir() else file.unlink()


def children(pid: int) -> list[int]:
    """Processes that a process started (proc(5))."""
    text = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii")
    return [int(word) for word in text.split()]


def kill_worker(run: subprocess.Popen[str]) -> tuple[str, set[int]]:
    """Kill the last process that the run started: a worker."""
    os.kill(children(run.pid)[-1], signal.SIGKILL)
    return "a worker killed", {0, 1}


def kill_run(run: subprocess.Popen[str]) -> tuple[str, set[int]]:
    """Kill the run itself; its workers end of themselves."""
    run.kill()
    return "the run killed", {-signal.SIGKILL}


def interrupt(run: subprocess.Popen[str]) -> tuple[str, set[int]]:
    """As Ctrl-C does."""
    run.send_signal(signal.SIGINT)
    return "the run interrupted", {130}


def break_mesh(_run: subprocess.Popen[str], mesh: Path) -> tuple[str, set[int]]:
    """Cut a mesh short that cases still need."""
    mesh.write_bytes(mesh.read_bytes()[:5000])
    return "a mesh cut short", {2}


def full_disk(
    disk: Path, inputs: Sequence[Path], right: dict[str, str], whole: dict[str, bytes]
) -> None:
    """Run on a disk that is too small, give it room, go on."""
    disk.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", disk], check=True)
    try:
        _, told = (run := start(inputs, disk / "out", "--workers", "2")).communicate()
        check(run.returncode == 2, f"a full disk: status {run.returncode}")
        check("nothing more can be written" in told, f"a full disk: {told}")
        left = plans(disk / "out")
        check(all(right[name] == text for name, text in left.items()), "full: a plan differs")
        print(f"a full disk: {len(left)} of {len(right)} plans\n    {told.splitlines()[-1]}")
        subprocess.run(["mount", "-o", "remount,size=512m", disk], check=True)
        resumed(inputs, disk / "out", right, whole)
    finally:
        subprocess.run(["umount", disk], check=True)


if __name__ == "__main__":
    main()
