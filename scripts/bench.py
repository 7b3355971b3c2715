"""Measure trajplan next to the plain-library way of doing the same; only ratios count.

Run with the ``dev`` extra installed: ``python scripts/bench.py [--quick]``. The bone is the
femur of the package myo-sim (Apache-2.0), subdivided by Loop's scheme. Every ratio is that of
medians of alternated rounds within this one run.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.bone import Caster

#: Rounds for each measurement, taken in turn with the others.
ROUNDS = 3
#: Lines that are cast; one in fifty at a vertex, one in fifty at an edge.
LINES = 100_000
#: mm, rings that stand for screws of 3.0, 4.5 and 6.5 mm.
RING_RADII = (1.5, 2.25, 3.25)
#: Lines for the plain engines that need about a millisecond or more for one.
FEW_LINES = 200
#: Lines on which depths are compared with brute force.
BRUTE_LINES = 100


def main() -> None:
    """Print all measurements."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="the smallest mesh only")
    quick = parser.parse_args().quick
    for subdivisions in (2,) if quick else (2, 4, 5):
        casting(*femur(subdivisions))
    clearance(*femur(2 if quick else 4))
    reading(*femur(2 if quick else 5))
    starting()


def femur(subdivisions: int) -> tuple[Vec3s, Ints]:
    """Vertices (mm) and faces of the femur; 2, 4, 5 subdivisions give 15k, 232k, 930k faces."""
    import trimesh

    path = Path(find_spec("myo_sim").submodule_search_locations[0], "models/meshes/r_femur.stl")
    mesh = trimesh.load_mesh(path)
    mesh.apply_scale(1000.0)
    mesh = mesh.subdivide_loop(subdivisions)
    return np.array(mesh.vertices), np.array(mesh.faces)


def medians(tasks: Mapping[str, Callable[[], object]], rounds: int = ROUNDS) -> dict[str, float]:
    """Median time of each task in seconds; rounds alternate, so that all share the weather."""
    times = {name: [] for name in tasks}
    for _ in range(rounds):
        for name, task in tasks.items():
            begin = time.perf_counter()
            task()
            times[name].append(time.perf_counter() - begin)
    return {name: median(taken) for name, taken in times.items()}


def heading(text: str) -> None:
    """Print a heading."""
    print(f"\n{text}\n{'-' * len(text)}")


def unit(vectors: Vec3s) -> Vec3s:
    """Rows of length 1."""
    return vectors / np.linalg.norm(vectors, axis=1)[:, None]


def screw_like_lines(vertices: Vec3s, faces: Ints) -> tuple[Vec3s, Vec3s]:
    """Lines through the shaft at 30 to 150 degrees to it, and aimed ones, from 150 mm away.

    Half of the aimed ones run along an axis, so they meet their vertex to the last bit.
    """
    rng = np.random.default_rng(0)
    shaft = int(np.ptp(vertices, axis=0).argmax())
    target = centre_line(vertices, shaft)[rng.integers(2, 38, LINES)]
    target = target + 3.0 * rng.normal(size=(LINES, 3))
    direction = unit(rng.normal(size=(4 * LINES, 3)))
    direction = direction[np.abs(direction[:, shaft]) < np.cos(np.radians(30.0))][:LINES]
    aimed = LINES // 50
    target[:aimed] = vertices[rng.integers(len(vertices), size=aimed)]
    edge = faces[rng.integers(len(faces), size=aimed), :2]
    target[aimed : 2 * aimed] = vertices[edge].mean(axis=1)
    across = np.delete(np.eye(3), shaft, axis=0)
    direction[: 2 * aimed : 2] = across[rng.integers(2, size=aimed)]
    return target - 150.0 * direction, direction


def centre_line(vertices: Vec3s, shaft: int) -> Vec3s:
    """Middles of 40 slices across the shaft."""
    along = vertices[:, shaft]
    edges = np.linspace(along.min(), along.max(), 41)
    piece = np.digitize(along, edges).clip(1, 40) - 1
    return np.array([vertices[piece == i].mean(axis=0) for i in range(40)])


def casting(vertices: Vec3s, faces: Ints) -> None:
    """All crossings next to Embree and r-tree through trimesh."""
    import trimesh
    from trimesh.ray.ray_pyembree import RayMeshIntersector as Embree
    from trimesh.ray.ray_triangle import RayMeshIntersector as Rtree

    from trajplan.bone import make_caster

    heading(f"All crossings of {LINES:,} lines, {len(faces):,} faces")
    origin, direction = screw_like_lines(vertices, faces)
    triangles = vertices[faces]
    make_caster(triangles[:100], "compiled").crossings(origin[:9], direction[:9])  # compiles
    begin = time.perf_counter()
    caster = make_caster(triangles, "compiled")
    building = time.perf_counter() - begin
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    embree, rtree = Embree(mesh), Rtree(mesh)
    embree.intersects_first(origin[:1], direction[:1])
    rtree.intersects_location(origin[:1], direction[:1])
    few = max(10, FEW_LINES * 15_000 // len(faces))
    taken = medians({
        "trajplan": lambda: caster.crossings(origin, direction),
        "embree": lambda: embree.intersects_location(origin, direction),
        "first": first_hits(embree, origin, direction),
        "rtree": lambda: rtree.intersects_location(origin[-few:], direction[-few:]),
    })  # fmt: skip
    taken["rtree"] *= LINES / few
    print(f"tree built in {building:.2f} s; {LINES / taken['trajplan']:,.0f} lines/s")
    for name, label in (
        ("embree", "trimesh with embreex, all hits"),
        ("first", "Embree itself, first hit only"),
        ("rtree", f"trimesh with rtree ({few} lines)"),
    ):
        print(f"  {taken[name] / taken['trajplan']:9.2f} times as fast as {label}")
    exactness(caster, triangles, origin, direction)
    rings(caster, embree, origin, direction)


def first_hits(embree: Any, origin: Vec3s, direction: Vec3s) -> Callable[[], object]:
    """Embree's own first hits, without what trimesh adds."""
    scene = embree._scene  # noqa: SLF001 (trimesh offers no way to the engine itself)
    start = ((origin - scene.origin) * scene.scale).astype(np.float32)
    way = direction.astype(np.float32)
    return lambda: scene.scene.run(start, way)


def rings(caster: Caster, embree: Any, origin: Vec3s, direction: Vec3s) -> None:
    """A screw's lines: its axis and a ring of sixteen, which run side by side."""
    from trajplan.trajectory._axes import Axes, bundle

    some = np.random.default_rng(1).permutation(len(origin))[: len(origin) // 17]
    for radius in RING_RADII:
        lines = bundle(
            Axes(origin[some], direction[some]), np.full((len(some), 1), radius), 16, with_axis=True
        )
        taken = medians({
            "trajplan": lambda lines=lines: caster.crossings(*lines),
            "embree": lambda lines=lines: embree.intersects_location(*lines),
        })  # fmt: skip
        print(
            f"  rings of {radius} mm: {len(lines[0]) / taken['trajplan']:,.0f} lines/s, "
            f"{taken['embree'] / taken['trajplan']:.2f} times as fast as trimesh with embreex"
        )


def exactness(caster: Caster, triangles: Floats, origin: Vec3s, direction: Vec3s) -> None:
    """Unbalanced lines, and the largest error of a depth against brute force."""
    from trajplan.bone._rule import brute_crossings

    found = caster.crossings(origin, direction)
    line = np.repeat(np.arange(len(origin)), np.diff(found.offsets))
    unbalanced = np.count_nonzero(np.bincount(line, found.sign, len(origin)))
    pick = np.linspace(0, len(origin) - 1, BRUTE_LINES).astype(int)
    ours = caster.crossings(origin[pick], direction[pick])
    truth = brute_crossings(triangles, origin[pick], direction[pick])
    same = np.array_equal(ours.face, truth.face) and np.array_equal(ours.offsets, truth.offsets)
    a, b, c = triangles[found.face].transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    slope = (normal * direction[line]).sum(axis=1)
    clear = np.abs(slope) > 0.02 * np.linalg.norm(normal, axis=1)
    plane = (normal * (a - origin[line])).sum(axis=1) / np.where(clear, slope, 1.0)
    error = np.abs(plane - found.depth)[clear].max()
    print(f"  unbalanced lines: {unbalanced}; the same hits as brute force: {same}")
    print(f"  largest difference from the planes of the faces: {error:.1e} mm")


def clearance(vertices: Vec3s, faces: Ints) -> None:
    """Exact clearance of segments from a joint patch next to 33 samples through trimesh."""
    import trimesh

    from trajplan.bone import SurfaceDistance, as_surface, segment_distance

    vertices, faces = head_patch(vertices, faces, 5000)
    heading(f"Clearance of axes from a patch of {len(faces):,} faces")
    rng = np.random.default_rng(1)
    middle = vertices[faces].mean(axis=(0, 1))
    p = middle + unit(rng.normal(size=(2000, 3))) * rng.uniform(30, 100, (2000, 1))
    q = p + unit(rng.normal(size=(2000, 3))) * rng.uniform(20, 60, (2000, 1))
    distance = SurfaceDistance.of(as_surface((vertices, faces)))
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    few = 5
    step = np.linspace(0.0, 1.0, 33)[None, :, None]
    samples = (p[:few, None] + step * (q - p)[:few, None]).reshape(-1, 3)
    sampled = []
    taken = medians({
        "exact": lambda: segment_distance(distance, p, q),
        "trimesh": lambda: sampled.append(trimesh.proximity.closest_point(mesh, samples)[1]),
    })  # fmt: skip
    ratio = taken["trimesh"] / few / (taken["exact"] / len(p))
    print(f"  {len(p) / taken['exact']:,.0f} axes/s, exact; {ratio:.0f} times as fast as trimesh")
    over = sampled[0].reshape(few, 33).min(axis=1) - segment_distance(distance, p[:few], q[:few])
    print(f"  on {few} axes the samples over-estimate by up to {over.max():.3f} mm")


def head_patch(vertices: Vec3s, faces: Ints, count: int) -> tuple[Vec3s, Ints]:
    """Faces nearest to the highest point of the bone."""
    shaft = int(np.ptp(vertices, axis=0).argmax())
    middles = vertices[faces].mean(axis=1)
    top = middles[middles[:, shaft].argmax()]
    nearest = np.argsort(np.linalg.norm(middles - top, axis=1))[:count]
    used, local = np.unique(faces[nearest], return_inverse=True)
    return vertices[used], local.reshape(-1, 3)


OURS = "from trajplan.bone import read_surface\nread = read_surface"
THEIRS = "import trimesh\nread = trimesh.load_mesh"
#: Runs in a fresh process: seconds to read, and highest resident memory in MB.
READ = """
import sys, time
{way}
begin = time.perf_counter()
mesh = read(sys.argv[1])
taken = time.perf_counter() - begin
assert len(mesh.faces) == int(sys.argv[2])
status = open("/proc/self/status").read()
print(taken, int(status.split("VmHWM:")[1].split()[0]) / 1024)
"""


def reading(vertices: Vec3s, faces: Ints) -> None:
    """Reading a binary STL next to trimesh, each in a fresh process."""
    import trimesh

    heading(f"Reading a binary STL of {len(faces):,} faces")
    seconds, memory = {"trajplan": [], "trimesh": []}, {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "bone.stl")
        trimesh.Trimesh(vertices, faces, process=False).export(path)
        for _ in range(ROUNDS):
            for name, way in (("trajplan", OURS), ("trimesh", THEIRS)):
                code = READ.format(way=way)
                taken, peak = map(float, run("-c", code, path, len(faces)).split())
                seconds[name].append(taken)
                memory[name] = peak
    time_ratio = median(seconds["trajplan"]) / median(seconds["trimesh"])
    memory_ratio = memory["trajplan"] / memory["trimesh"]
    print(f"  {time_ratio:.2f} of trimesh's time, {memory_ratio:.2f} of its peak memory")


def starting() -> None:
    """The command's help next to importing trimesh."""
    heading("Starting")
    taken = medians(
        {
            "help": lambda: run("-m", "trajplan", "--help"),
            "trimesh": lambda: run("-c", "import trimesh"),
            "python": lambda: run("-c", "pass"),
        },
        rounds=5,
    )
    print(f"  trajplan --help: {taken['help'] / taken['trimesh']:.2f} of `import trimesh`")
    print(f"  (Python alone: {taken['python'] / taken['trimesh']:.2f})")


def run(*arguments: object) -> str:
    """Output of a fresh Python process."""
    command = [sys.executable, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


if __name__ == "__main__":
    main()
