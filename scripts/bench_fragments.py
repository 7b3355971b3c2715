"""Where the time of a plan on two fragments goes, on a real femur broken at three sizes.

usage: python scripts/bench_fragments.py [--sizes N]

The femur of `bench_plan.py` is cut obliquely by trajplan itself, and both pieces are planned as
fragments, their fracture found between them. Prints reading with audit and building, the search
for the fracture, the whole of setting up and the whole plan; then what the search costs a face,
which a linear one keeps the same from size to size. Bare seconds do not travel between machines.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from bench_plan import CASE, femur

#: Rounds of refining: about 2 x 29,000, 2 x 116,000 and 2 x 465,000 faces.
SIZES = (3, 4, 5)
TIMES = 3
FRAGMENTS = """\
unit = "mm"
[bone]
fragments = ["distal.stl", "proximal.stl"]
cortex = 6.0
[fracture]
between = true
[screws]
count = 2
kinds = ["HA4.5"]
"""


def broken(folder: Path, rounds: int) -> tuple[Path, int]:
    """Cut the femur in two, and write a case of the pieces; also their number of faces."""
    from trajplan.files import read_case, write_stl
    from trajplan.planner import set_up, split_case

    mesh, point, normal = femur(folder, rounds)
    whole = folder / "whole.toml"
    whole.write_text(CASE.format(mesh=mesh.name, point=point, normal=normal, count=200))
    parts = split_case(set_up(read_case(whole))).pieces
    for name, part in zip(("distal", "proximal"), parts, strict=True):
        write_stl(folder / f"{name}.stl", part.triangles())
    case = folder / "case.toml"
    case.write_text(FRAGMENTS)
    return case, sum(len(part.faces) for part in parts)


class Stopwatch:
    """Seconds spent in one function of a module."""

    def __init__(self, module: Any, name: str) -> None:
        self.seconds = 0.0
        work = getattr(module, name)

        def timed(*args: Any, **words: Any) -> Any:
            start = time.perf_counter()
            try:
                return work(*args, **words)
            finally:
                self.seconds += time.perf_counter() - start

        setattr(module, name, timed)


def one_size(case_file: Path, faces: int) -> None:
    from trajplan.files import read_case
    from trajplan.planner import _setup, plan_case, set_up

    build, search = Stopwatch(_setup, "make_bone"), Stopwatch(_setup, "_fracture")
    times: dict[str, list[float]] = {}
    plan_case(read_case(case_file))  # compile
    for _ in range(TIMES):
        build.seconds = search.seconds = 0.0
        start = time.perf_counter()
        set_up(read_case(case_file), make=_setup.make_bone)
        times.setdefault("set up", []).append(time.perf_counter() - start)
        times.setdefault("audit and build", []).append(build.seconds)
        times.setdefault("fracture between the fragments", []).append(search.seconds)
        start = time.perf_counter()
        plan_case(read_case(case_file))
        times.setdefault("whole plan", []).append(time.perf_counter() - start)
    median = {name: statistics.median(values) for name, values in times.items()}
    print(f"\n2 fragments, {faces:,} faces in all")
    for name, seconds in median.items():
        print(f"  {name:40s}{seconds:8.2f} s")
    each = 1e6 * median["fracture between the fragments"] / faces
    print(f"  the search, a face                      {each:8.2f} µs")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", type=int, default=len(SIZES), help="how many of the three")
    args = parser.parse_args()
    for rounds in SIZES[: args.sizes]:
        with tempfile.TemporaryDirectory() as name:
            one_size(*broken(Path(name), rounds))


if __name__ == "__main__":
    main()
