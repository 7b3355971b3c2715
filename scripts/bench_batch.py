"""Measure a batch: workers, cost and memory over many cases, sharing a bone; print a table.

Run with the ``dev`` extra installed: ``python scripts/bench_batch.py [--cases N] [--long]``.
Cases are small ones on invented tubes. Only ratios within one run count; take them on an idle
machine, for workers that share their cores with other work gain less.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import pickle
import tempfile
import time
from pathlib import Path

import numpy as np

from trajplan.batch import Job, batch, find_jobs, summarize
from trajplan.batch._batch import cores
from trajplan.batch._bounds import memory_of
from trajplan.batch._store import BoneStore
from trajplan.batch._tables import write_tables
from trajplan.files import read_case, write_stl

CASE = """\
unit = "mm"
[bone]
mesh = "bone.stl"
[fracture]
plane = { point = [0, 0, 50], normal = [0.5, 0, 0.8660254037844386] }
[screws]
count = 1
kinds = ["HA4.5"]
candidates = 50
ring = 8
[placement]
draws = 0
"""


def main() -> None:
    """Print all measurements."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=60, help="for the comparison of workers")
    parser.add_argument("--long", action="store_true", help="1000 cases for cost and memory")
    args = parser.parse_args()
    load = os.getloadavg()[0]
    print(f"{cores()} cores, load {load:.1f} before the first measurement\n")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_tube(folder / "bone.stl", sides=24)
        (folder / "base.toml").write_text(CASE)
        workers(folder, args.cases)
        growth(folder, (10, 30, 100, 300, 1000) if args.long else (10, 30, 100))
        wire(folder)
        sharing(folder)


def write_tube(path: Path, sides: int, rings: int = 2) -> None:
    """Write a closed tube with a closed canal: 28 mm wide, walls of 5 mm, 100 mm long."""
    parts = []
    for radius, low, high, way in ((14.0, 0.0, 100.0, 1), (9.0, 5.0, 95.0, -1)):
        angle = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
        level = np.linspace(low, high, rings)
        grid = np.empty((rings, sides, 3))
        grid[..., 0], grid[..., 1] = radius * np.cos(angle), radius * np.sin(angle)
        grid[..., 2] = level[:, None]
        a, b = grid[:-1], np.roll(grid[:-1], -1, axis=1)
        c, d = np.roll(grid[1:], -1, axis=1), grid[1:]
        walls = [np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)]
        caps = []
        for ring, turn in ((grid[0], -1), (grid[-1], 1)):
            middle = np.broadcast_to([0.0, 0.0, ring[0, 2]], ring.shape)
            cap = np.stack([middle, ring, np.roll(ring, -1, axis=0)], axis=1)
            caps.append(cap[:, ::turn])
        faces = np.concatenate([*(wall.reshape(-1, 3, 3) for wall in walls), *caps])
        parts.append(faces[:, ::way])
    write_stl(path, np.concatenate(parts))


def jobs(folder: Path, count: int) -> list[Job]:
    """So many jobs on one bone, each with a limit of its own."""
    (base,) = find_jobs([folder / "base.toml"])
    return [
        Job(f"case{i:05d}", base.case, {"limits": {"max_tilt": 10.0 + i % 50 / 10}})
        for i in range(count)
    ]


def row(*cells: object) -> None:
    """Print a row of a table."""
    print("| " + " | ".join(str(cell) for cell in cells) + " |")


def head(*cells: str) -> None:
    """Print the head of a table."""
    row(*cells)
    row(*("---" for _ in cells))


def steady(work: list[Job], count: int, cluster: str | None = None) -> tuple[float, float]:
    """Cases a second from the first that is finished on; processor seconds a case in all."""
    times, before = [], processor_seconds()
    for outcome in batch(work, workers=count, cluster=cluster):
        assert outcome.status == "done", outcome.error
        times.append(time.perf_counter())
    rate = (len(times) - count) / (times[-1] - times[count - 1])
    return rate, (processor_seconds() - before) / len(work)


def processor_seconds() -> float:
    """Processor time of this process and of all children that ended."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def workers(folder: Path, count: int) -> None:
    """Cases a second for 1 and 2 workers, in turn, and for a cluster of 2."""
    work = jobs(folder, count)
    ways = {"1 worker": (1, None), "2 workers": (2, None), "dask, 2 workers": (2, "local")}
    runs: dict[str, list[tuple[float, float]]] = {name: [] for name in ways}
    for _ in range(3):
        for name, way in ways.items():
            runs[name].append(steady(work, *way))
    rate, cost = ({n: np.median([r[i] for r in runs[n]]) for n in ways} for i in (0, 1))
    head("workers", f"cases/s ({count} cases)", "over 1 worker", "processor s a case, start-up too")
    for name in ways:
        ratio = rate[name] / rate["1 worker"]
        row(name, f"{rate[name]:.2f}", f"{ratio:.2f}", f"{cost[name]:.2f}")
    print()


def growth(folder: Path, counts: tuple[int, ...]) -> None:
    """Seconds a case and memory of the worker, over more and more cases, to a folder."""
    head("cases", "s a case", "worker, MB at the end", "this process, MB", "tables and page, s")
    for count in counts:
        out = folder / f"out{count}"
        begin, outcomes, worker = time.perf_counter(), [], 0.0
        for outcome in batch(jobs(folder, count), workers=1, out=out):
            outcomes.append(outcome)
            for child in multiprocessing.active_children():
                worker = memory_of(child.pid or 0) or worker
        taken = time.perf_counter() - begin
        begin = time.perf_counter()
        write_tables(out, outcomes)
        summarize(outcomes)
        told = time.perf_counter() - begin
        here = memory_of(os.getpid())
        row(count, f"{taken / count:.3f}", f"{worker:.0f}", f"{here:.0f}", f"{told:.2f}")
    print()


def wire(folder: Path) -> None:
    """Bytes that move for a case, and bytes that lie on the disk."""
    work = jobs(folder, 1)
    out = folder / "wire"
    (outcome,) = batch(work, workers=1, out=out)
    files = [file.stat().st_size for file in out.rglob("*") if file.is_file()]
    head("what", "bytes a case")
    row("job, to the worker", len(pickle.dumps(work[0])))
    row("outcome, from the worker", len(pickle.dumps(outcome)))
    row(f"files in the output folder ({len(files)})", sum(files))
    row("row in the memory of the run", len(json.dumps([outcome.row, outcome.screws])))
    print()


def sharing(folder: Path) -> None:
    """What a case costs on a large bone, when its worker has that bone and when it has not."""
    from trajplan.planner import plan_case

    head("faces", "s a case, bone built anew", "s a case, bone kept", "ratio")
    for rings in (2, 40, 400):
        write_tube(folder / "bone.stl", sides=240, rings=rings)
        case = read_case(folder / "base.toml")
        make = BoneStore().make
        faces = len(plan_case(case, make=make).setup.bone.surface.faces)
        anew, kept = [], []
        for _ in range(3):
            for times, options in ((anew, {}), (kept, {"make": make})):
                begin = time.perf_counter()
                plan_case(case, **options)
                times.append(time.perf_counter() - begin)
        a, b = np.median(anew), np.median(kept)
        row(f"{faces:,}", f"{a:.2f}", f"{b:.2f}", f"{a / b:.2f}")


if __name__ == "__main__":
    main()
