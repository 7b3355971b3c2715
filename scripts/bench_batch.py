"""Measure a batch: start, floor, workers, cost and memory over many cases, sharing a bone.

usage: python scripts/bench_batch.py [--quick]

Run with the ``dev`` extra installed, on an idle machine: workers that share their cores with
other work gain less. Small cases are invented tubes, larger ones the femur of the package
myo-sim. Bare seconds do not travel between machines; ratios within one run do.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import pickle
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import bench
import bench_plan
from many_cases import TUBE, write_tube

from trajplan.batch import Job, batch, summarize
from trajplan.batch._batch import cores
from trajplan.batch._bounds import memory_of
from trajplan.batch._page import summary_page
from trajplan.batch._store import BoneStore
from trajplan.batch._tables import write_tables
from trajplan.files import read_case

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Loop subdivisions of the femur of the larger cases: 14,528 faces.
SUBDIVISIONS = 2


def main() -> None:
    """Print all measurements."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="few cases, to try the script")
    quick = parser.parse_args().quick
    load = os.getloadavg()[0]
    print(f"{cores()} cores, load {load:.1f} before the first measurement\n")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_tube(folder / "bone.stl", sides=24)
        (folder / "tube.toml").write_text(TUBE.format(mesh="bone.stl", point=[0, 0, 50], tilt=20))
        starting()
        floor(folder, rounds=1 if quick else 3)
        few, some = (4, 4) if quick else (80, 24)
        workers(folder, {"tube": few, "femur": some}, rounds=1 if quick else 2)
        growth(folder, (4, 8) if quick else (10, 30, 100, 300, 1000))
        wire(folder)
        sharing(folder)


def starting() -> None:
    """The command's help beside Python's own start."""
    ways = {"Python alone": ("-c", "pass"), "trajplan --help": ("-m", "trajplan", "--help")}
    taken = bench.medians({n: lambda w=w: bench.run(*w) for n, w in ways.items()}, rounds=7)
    head("start", "s", "over Python alone")
    for name, seconds in taken.items():
        row(name, f"{seconds:.2f}", f"{seconds / taken['Python alone']:.1f}")
    print()


def floor(folder: Path, rounds: int) -> None:
    """A whole plan over raw casting of its lines; writes the case of the femur."""
    mesh, point, normal = bench_plan.femur(folder, SUBDIVISIONS)
    text = bench_plan.CASE.format(mesh=mesh.name, point=point, normal=normal, count=300)
    (folder / "femur.toml").write_text(f"{text}[placement]\ndraws = 100\n")
    print("One plan on the larger bone")
    bench_plan.one_size(folder / "femur.toml", mesh, rounds)
    print()


def jobs(file: Path, count: int) -> list[Job]:
    """So many jobs on one bone, each with a limit of its own."""
    return [
        Job(f"case{i:05d}", file, {"limits": {"max_tilt": 10.0 + i % 50 / 10}})
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


@contextmanager
def kept_to(count: int) -> Iterator[None]:
    """Run on the first so many cores alone, where the system can be told so."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, sorted(allowed)[:count])
    try:
        yield
    finally:
        os.sched_setaffinity(0, allowed)


def processor_seconds() -> float:
    """Processor time of this process and of all children that ended."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def workers(folder: Path, counts: dict[str, int], rounds: int) -> None:
    """Cases a second for 1 and 2 workers, in turn, and for a cluster of 2.

    A single worker casts on every core that is free, so it is measured on one core as well.
    """
    ways = {
        "1 worker, one core": (1, None, 1),
        "1 worker": (1, None, cores()),
        "2 workers": (2, None, cores()),
        "dask, 2 workers": (2, "local", cores()),
    }
    one = "1 worker, one core"
    head("cases", "workers", "cases/s", "over one core", "processor s a case, start-up too")
    for bone, count in counts.items():
        work = jobs(folder / f"{bone}.toml", count)
        runs: dict[str, list[tuple[float, float]]] = {name: [] for name in ways}
        for _ in range(rounds):
            for name, way in ways.items():
                with kept_to(way[2]):
                    runs[name].append(steady(work, *way[:2]))
        rate, cost = ({n: median(r[i] for r in runs[n]) for n in ways} for i in (0, 1))
        for name in ways:
            ratio = rate[name] / rate[one]
            first = f"{count} on a {bone}"
            row(first, name, f"{rate[name]:.2f}", f"{ratio:.2f}", f"{cost[name]:.2f}")
    print()


def growth(folder: Path, counts: tuple[int, ...]) -> None:
    """Cost of a case and memory of two workers, over more and more cases, to a folder."""
    head(
        *("cases", "s in all", "s a case, once started", "a worker, MB in the middle, at the end"),
        *("this process, MB", "tables and page, s"),
    )
    for count in counts:
        out, times, outcomes, held = folder / f"out{count}", [], [], []
        begin = time.perf_counter()
        for outcome in batch(jobs(folder / "tube.toml", count), workers=2, out=out):
            assert outcome.status == "done", outcome.error
            outcomes.append(outcome)
            times.append(time.perf_counter() - begin)
            most = (memory_of(child.pid or 0) for child in multiprocessing.active_children())
            held.append(max(most, default=0.0))
        told = time.perf_counter()
        write_tables(out, outcomes)
        summary_page(summarize(outcomes))
        told = time.perf_counter() - told
        each = (times[-1] - times[1]) / (count - 2)
        last = max(held[-3:])  # a worker that has nothing more to do ends
        row(
            *(
                f"{count:,}",
                f"{times[-1]:.1f}",
                f"{each:.3f}",
                f"{held[count // 2]:.0f}, {last:.0f}",
            ),
            *(f"{memory_of(os.getpid()):.0f}", f"{told:.2f}"),
        )
    print()


def wire(folder: Path) -> None:
    """Bytes that move for a case, and bytes that lie on the disk."""
    work = jobs(folder / "tube.toml", 1)
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
        case = read_case(folder / "tube.toml")
        make = BoneStore().make
        faces = len(plan_case(case, make=make).setup.bone.surface.faces)
        anew, kept = [], []
        for _ in range(3):
            for times, options in ((anew, {}), (kept, {"make": make})):
                begin = time.perf_counter()
                plan_case(case, **options)
                times.append(time.perf_counter() - begin)
        a, b = median(anew), median(kept)
        row(f"{faces:,}", f"{a:.2f}", f"{b:.2f}", f"{a / b:.2f}")


if __name__ == "__main__":
    main()
