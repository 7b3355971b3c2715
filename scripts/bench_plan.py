"""Where the time of a whole plan goes, on a real femur refined to two sizes.

usage: python scripts/bench_plan.py [--quick] [--rounds N]

Prints, for about 232,000 and 930,000 faces: reading, audit and building, the whole plan (two
screws out of 2,000 candidates, rings of 16 lines), raw casting of the very same lines, the
same lines through trimesh with embreex, and peak memory; then the cost per candidate from 200
to 20,000 candidates, and 10,000 placement draws. Ratios are medians within one run; bare
seconds do not travel between machines.
"""

from __future__ import annotations

import argparse
import gc
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

CASE = """\
unit = "mm"
[bone]
mesh = "{mesh}"
cortex = 6.0
[fracture]
plane = {{ point = {point}, normal = {normal} }}
[screws]
count = 2
kinds = ["HA4.5"]
candidates = {count}
"""


def femur(folder: Path, rounds: int) -> tuple[Path, list[float], list[float]]:
    """Refine the femur of the package myo-sim and cut it obliquely at mid-shaft."""
    import trimesh

    spec = find_spec("myo_sim")
    assert spec is not None and spec.submodule_search_locations
    source = Path(spec.submodule_search_locations[0]) / "models" / "meshes" / "r_femur.stl"
    bone = trimesh.load_mesh(source)
    bone.apply_scale(1000.0)
    bone = bone.subdivide_loop(rounds)
    path = folder / f"femur{rounds}.stl"
    bone.export(path)
    axis = int(bone.extents.argmax())
    middle = bone.bounds.mean(axis=0)
    point = bone.section(plane_origin=middle, plane_normal=np.eye(3)[axis]).centroid
    normal = np.zeros(3)
    normal[axis], normal[(axis + 1) % 3] = np.cos(np.pi / 3), np.sin(np.pi / 3)
    return path, point.tolist(), normal.tolist()


class Recorder:
    """A caster that remembers the lines it was asked for."""

    def __init__(self, caster: Any) -> None:
        self.caster = caster
        self.lines: list[tuple[Any, Any]] = []
        self.seconds = 0.0

    def crossings(self, origin: Any, direction: Any) -> Any:
        start = time.perf_counter()
        found = self.caster.crossings(origin, direction)
        self.seconds += time.perf_counter() - start
        self.lines.append((origin, direction))
        return found

    def beside(self, *what: Any) -> Any:
        return self.caster.beside(*what)


def clock(work: Any) -> tuple[float, Any]:
    gc.collect()
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


#: What any plan must at least do.
FLOOR = ("read", "audit and build", "raw cast of the same lines")


def one_size(case_file: Path, mesh: Path, rounds: int) -> None:
    from trajplan.bone import make_bone, read_surface
    from trajplan.files import read_case
    from trajplan.planner import _plan as pipeline
    from trajplan.planner import plan_case, set_up

    case = read_case(case_file)
    plan_case(case)  # compile
    times: dict[str, list[float]] = {}

    def note(name: str, seconds: float) -> None:
        times.setdefault(name, []).append(seconds)

    lines: list[tuple[Any, Any]] = []
    floors: list[float] = []
    ratios: list[float] = []  # of each round: what slows the machine slows both sides
    for _ in range(rounds):
        seconds, surface = clock(lambda: read_surface(mesh))
        note("read", seconds)
        seconds, bone = clock(lambda: make_bone(surface))
        note("audit and build", seconds)
        seconds, setup = clock(lambda: set_up(case))
        note("set up (read, build, fracture, shaft)", seconds)
        recorder = Recorder(setup.bone.caster)
        watched = replace(setup.bone, caster=recorder)
        around = replace(setup.around, bone=watched)
        recorded = replace(setup, bone=watched, around=around)
        original = pipeline.set_up
        pipeline.set_up = lambda *_a, _s=recorded, **_k: _s
        try:
            seconds, _ = clock(lambda: plan_case(case))
        finally:
            pipeline.set_up = original
        note("plan after set-up", seconds)
        note("casting inside it", recorder.seconds)
        lines = recorder.lines
        seconds, _ = clock(lambda: [bone.caster.crossings(o, d) for o, d in lines])
        note("raw cast of the same lines", seconds)
        seconds, _ = clock(lambda: plan_case(case))
        note("whole plan", seconds)
        note("whole plan with a plate", clock(lambda: plan_case(plated(case_file)))[0])
        floors.append(sum(times[name][-1] for name in FLOOR))
        ratios.append(seconds / floors[-1])
    count = sum(len(origin) for origin, _ in lines)
    median = {name: statistics.median(values) for name, values in times.items()}
    print(f"\n{len(surface.faces):,} faces, {count:,} lines cast")
    for name, seconds in median.items():
        print(f"  {name:40s}{seconds:8.2f} s")
    with_plate = median["whole plan with a plate"] / median["whole plan"]
    print(f"  with a plate over without                  x{with_plate:.2f}")
    print(f"  whole plan over (read + build + raw cast)  x{statistics.median(ratios):.2f}")
    share = median["casting inside it"] / median["plan after set-up"]
    print(f"  share of casting in the plan after set-up  {100 * share:.0f} %")
    slower = plain(mesh, lines) / statistics.median(floors)
    print(f"  plain way (trimesh, embreex)               x{slower:.2f} of that floor")


def plated(case_file: Path) -> Any:
    """The same case with one plate, its side and its number of holes left to the plan."""
    from trajplan.files import read_case

    return read_case(case_file, {"plate": [{"kind": "Narrow4.5", "work": "protect"}]})


def plain(mesh: Path, lines: list[tuple[Any, Any]]) -> float:
    """The same lines, both ways, by trimesh and embreex alone, from reading on."""
    import trimesh

    start = time.perf_counter()
    bone = trimesh.load_mesh(mesh)
    reach = float(np.linalg.norm(bone.extents)) * 2.0
    for origin, direction in lines:
        bone.ray.intersects_location(origin - reach * direction, direction)
    return time.perf_counter() - start


def candidates(folder: Path, mesh: Path, point: list[float], normal: list[float]) -> None:
    from trajplan.files import read_case
    from trajplan.planner import screen, set_up

    print("\ncost of screening, per candidate")
    for count in (200, 2000, 20000):
        file = folder / f"case{count}.toml"
        file.write_text(CASE.format(mesh=mesh.name, point=point, normal=normal, count=count))
        setup = set_up(read_case(file))
        screen(setup)
        seconds, found = clock(lambda: screen(setup))
        made = len(found.candidates.axes)
        print(f"  {made:6d} candidates  {1e3 * seconds / made:8.3f} ms each")


def placement(case_file: Path, draws: int) -> None:
    """Placement draws for two screws: time in casting against time in all the rest."""
    from trajplan.files import read_case
    from trajplan.planner import plan_case
    from trajplan.planner._rivals import hands_of
    from trajplan.tolerance import Scatter, place

    plan = plan_case(read_case(case_file))
    setup, screws = plan.setup, plan.assessment.screws
    recorder = Recorder(setup.bone.caster)
    watched = replace(setup.bone, caster=recorder)
    hands = hands_of(setup, screws)
    hands = replace(hands, around=replace(hands.around, bone=watched))
    seconds, _ = clock(lambda: place(hands, plan.assessment.ids, Scatter(draws=draws)))
    rest = seconds - recorder.seconds
    print(f"\n{draws:,} placement draws for two screws: {seconds:.2f} s")
    ratio = rest / recorder.seconds
    print(f"  casting {recorder.seconds:.2f} s, all the rest {rest:.2f} s, x{ratio:.2f}")


def memory(case_file: Path) -> None:
    """Peak memory of the command itself, in a process of its own.

    Read from the kernel's own mark: a child's ``ru_maxrss`` starts from its parent's.
    """
    code = (
        "import sys; from trajplan.cli import main; "
        f"main(['plan', {str(case_file)!r}, '--no-picture', '--json', '--out', "
        f"{str(case_file.parent / 'out')!r}]); "
        "print(open('/proc/self/status').read().partition('VmHWM:')[2].split()[0], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    mib = int(done.stderr.split()[-1]) / 1024
    print(f"  peak memory of `trajplan plan`             {mib:.0f} MiB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="the smaller size only, one round")
    parser.add_argument("--rounds", type=int, default=7)
    args = parser.parse_args()
    sizes = (4,) if args.quick else (4, 5)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for size in sizes:
            mesh, point, normal = femur(folder, size)
            case = folder / f"case_{size}.toml"
            case.write_text(CASE.format(mesh=mesh.name, point=point, normal=normal, count=2000))
            one_size(case, mesh, 1 if args.quick else args.rounds)
            memory(case)
            if size == 4:
                candidates(folder, mesh, point, normal)
                placement(case, 1000 if args.quick else 10_000)


if __name__ == "__main__":
    main()
