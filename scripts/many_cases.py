"""Write many cases, as a study or a training lab has them, on real and on invented bones.

usage: python scripts/many_cases.py FOLDER [--count N] [--candidates N] [--draws N]

Half of them are case files below FOLDER/real: fractures of femur, tibia, humerus and radius of
the package myo-sim (Apache-2.0, installed by the extra ``dev``), each at a height, with an
obliquity, a kind and a number of screws of its own. The other half are rows of FOLDER/demo.csv,
which vary the demonstration cases. The same arguments write the same bytes. Then:
``trajplan batch FOLDER/real FOLDER/demo.csv -o DIR``.
"""

from __future__ import annotations

import argparse
import csv
import shutil
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from trajplan.files import write_stl

MESHES = Path(__file__).parents[1] / "meshes"
DEMOS = ("shaft", "shaft_groups", "oblique", "wedge", "spiral", "end", "end_wires")
#: Mesh, assumed wall in mm, kinds of screws that are tried.
BONES = {
    "r_femur": (6.0, ("HA4.5", "HB6.5")),
    "r_tibia": (5.0, ("HA4.5", "HA3.5")),
    "humerus": (4.0, ("HA4.5", "HA3.5")),
    "radius": (3.0, ("HA3.5", "HA2.7")),
}
CASE = """\
title = "{bone}, {degrees:g} degrees, number {number}"
unit = "m"
[bone]
mesh = "{bone}.stl"
cortex = {cortex}
[fracture]
plane = {{ point = {point}, normal = {normal} }}
[screws]
count = {count}
kinds = ["{kind}"]
candidates = {candidates}
[placement]
draws = {draws}
"""
#: A case that is quick to work on: few candidates and lines, no draws.
TUBE = """\
unit = "mm"
[bone]
mesh = "{mesh}"
[fracture]
plane = {{ point = {point}, normal = [0.5, 0, 0.8660254037844386] }}
[screws]
count = 1
kinds = ["HA4.5"]
candidates = 50
ring = 8
[placement]
draws = 0
[limits]
max_tilt = {tilt}
"""
TUBES = 4
COLUMNS = (
    *("id", "case", "screws.count", "limits.max_tilt"),
    *("screws.candidates", "placement.draws"),
)


def write_cases(folder: Path, count: int, candidates: int, draws: int) -> list[Path]:
    """Write so many cases, and return what `trajplan batch` is to be given."""
    real = folder / "real"
    bones = [_Real(real / name, name, candidates, draws) for name in BONES]
    for number in range(count // 2):
        bones[number % len(bones)].write(number)
    return [real, _demos(folder, count - count // 2, candidates, draws)]


class _Real:
    """A real bone and its fractures."""

    def __init__(self, folder: Path, bone: str, candidates: int, draws: int) -> None:
        import trimesh

        spec = find_spec("myo_sim")
        assert spec is not None and spec.submodule_search_locations
        folder.mkdir(parents=True, exist_ok=True)
        self.folder, self.bone, self.candidates, self.draws = folder, bone, candidates, draws
        path = Path(spec.submodule_search_locations[0], "models", "meshes", f"{bone}.stl")
        self.mesh = trimesh.load_mesh(shutil.copy(path, folder))
        self.along = np.eye(3)[self.mesh.extents.argmax()]
        self.across = np.roll(self.along, 1)

    def write(self, number: int) -> None:
        """Write a case: an oblique plane across the middle half of the shaft."""
        draw = np.random.default_rng(number)
        share, degrees = draw.uniform(0.35, 0.65), float(draw.integers(20, 65))
        low, high = self.mesh.bounds @ self.along
        origin = (low + share * (high - low)) * self.along
        cut = self.mesh.section(plane_origin=origin, plane_normal=self.along)
        angle = np.radians(degrees)
        normal = np.cos(angle) * self.along + np.sin(angle) * self.across
        cortex, kinds = BONES[self.bone]
        text = CASE.format(
            bone=self.bone,
            degrees=degrees,
            number=number,
            cortex=cortex,
            point=np.round(cut.centroid, 6).tolist(),
            normal=np.round(normal, 6).tolist(),
            count=1 + int(draw.integers(3)),
            kind=kinds[int(draw.integers(2))],
            candidates=self.candidates,
            draws=self.draws,
        )
        (self.folder / f"case{number:04d}.toml").write_text(text)


def write_tube(path: Path, sides: int, rings: int = 2, inner: float = 9.0) -> None:
    """Write a closed tube with a closed canal: 28 mm wide, 100 mm long."""
    parts = []
    for radius, low, high, way in ((14.0, 0.0, 100.0, 1), (inner, 5.0, 95.0, -1)):
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


def write_tubes(folder: Path, count: int) -> list[Path]:
    """Write cases that are quick to work on, over four tubes; what `trajplan batch` is given."""
    folder.mkdir(parents=True)
    for number in range(TUBES):
        write_tube(folder / f"tube{number}.stl", sides=24, inner=9.0 - 0.5 * number)
    for number in range(count):
        point = [0, 0, 40 + number // TUBES % 21]
        text = TUBE.format(mesh=f"tube{number % TUBES}.stl", point=point, tilt=10 + number % 13)
        (folder / f"case{number:04d}.toml").write_text(text)
    return [folder]


def _demos(folder: Path, count: int, candidates: int, draws: int) -> Path:
    """Write a manifest that varies the demonstration cases."""
    shutil.copytree(MESHES, folder / "demo", dirs_exist_ok=True)
    manifest = folder / "demo.csv"
    with manifest.open("w", encoding="utf-8", newline="") as stream:
        table = csv.writer(stream, lineterminator="\n")
        table.writerow(COLUMNS)
        for number in range(count):
            draw, demo = np.random.default_rng(number), DEMOS[number % len(DEMOS)]
            screws, tilt = 1 + int(draw.integers(3)), 10 + int(draw.integers(15))
            row = (f"{demo}-{number:04d}", f"demo/{demo}.toml", screws, tilt, candidates, draws)
            table.writerow(row)
    return manifest


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--candidates", type=int, default=2000)
    parser.add_argument("--draws", type=int, default=500)
    args = parser.parse_args()
    print(*write_cases(args.folder, args.count, args.candidates, args.draws))


if __name__ == "__main__":
    main()
