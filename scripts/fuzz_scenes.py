"""Cast lines through scenes that are hard to read, beside an independent brute force.

    python scripts/fuzz_scenes.py [N] [SEED]           N scenes, 500 if not told; a tally
    python scripts/fuzz_scenes.py --only NUMBER [SEED] one of them, with what it found

A scene is made of closed bodies of which it is known what is bone and what is hollow: several
bodies in one file, canals that come through the cortex, openings that bone rings, debris of
slivers, holes, bodies far from the origin in single precision. The truth along a line comes
from every triangle by the formula of Moller and Trumbore (1997, J Graphics Tools 2(1):21-28,
abstract), in double precision, on the clean bodies, and shares no code with trajplan. What the
program calls known must be that truth; anything else is wrong in silence. Where single precision
has moved the bodies, their true places are those of the file, and the audit must caution what
the file lost.
All shapes are invented.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import trimesh
from manifold3d import Manifold
from numpy.typing import NDArray

from trajplan.bone import as_surface, line_spans, make_bone
from trajplan.trajectory import Axes, cast

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.bone import Bone, Spans

Floats: TypeAlias = NDArray[np.float64]
Mesh: TypeAlias = tuple[Floats, NDArray[np.int64]]
Rng: TypeAlias = np.random.Generator

#: Lines through each scene, and mm within which a known depth must be the true one.
LINES, EXACT = 60, 1e-6
#: mm; what single precision may move a corner by before the audit must say so: half of the step
#: that it cautions from.
UNTOLD = 0.005
#: mm; runs of bone or air shorter than this are edges that a line grazes.
GRAZE = 0.02


@dataclass
class Scene:
    """Bodies, each an outer surface and its hollows, and what is laid over them."""

    kind: str
    bodies: list[tuple[Mesh, list[Mesh]]]
    file: Mesh | None = None  # what the program reads; the bodies themselves where None
    moved: float = 0.0  # mm that a vertex of the file lies off its true place at the most
    passage: tuple[Floats, Floats] | None = None  # a line that crosses an opening
    extra: list[Mesh] = field(default_factory=list)  # debris

    def read(self) -> Mesh:
        parts = [part for outer, hollows in self.bodies for part in (outer, *hollows)]
        return self.file if self.file is not None else joined(*parts, *self.extra)


# --- scenes ---------------------------------------------------------------------------


def joined(*meshes: Mesh) -> Mesh:
    starts = np.cumsum([0] + [len(vertices) for vertices, _ in meshes])[:-1]
    faces = [part[1] + start for part, start in zip(meshes, starts, strict=True)]
    return np.concatenate([part[0] for part in meshes]), np.concatenate(faces)


def solid(body: Manifold) -> Mesh:
    mesh = body.to_mesh64()
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, dtype=np.int64)


def rod(radius: float, low: float, high: float, sides: int = 32) -> Manifold:
    return Manifold.cylinder(high - low, radius, circular_segments=sides).translate([0, 0, low])


def placed(rng: Rng) -> Callable[[Mesh], Mesh]:
    """One motion for all parts of a scene: no coordinate is round."""
    turn = trimesh.transformations.random_rotation_matrix(rng.random(3))[:3, :3]
    shift = rng.uniform(-50.0, 50.0, 3)
    return lambda mesh: (mesh[0] @ turn.T + shift, mesh[1])


def shaft_of(rng: Rng) -> tuple[float, float, float]:
    outer = rng.uniform(8.0, 16.0)
    return outer, outer * rng.uniform(0.3, 0.75), rng.uniform(90.0, 160.0)


def canal(rng: Rng) -> Scene:
    outer, inner, length = shaft_of(rng)
    move = placed(rng)
    return Scene("canal", [(move(solid(rod(outer, 0, length))),
                            [move(solid(rod(inner, 5, length - 5)))])])  # fmt: skip


def several(rng: Rng) -> Scene:
    """Two to four bones side by side, of which some touch the boxes of others."""
    bodies = []
    move = placed(rng)
    for number in range(int(rng.integers(2, 5))):
        outer, inner, length = shaft_of(rng)
        aside = [40.0 * number, rng.uniform(-8.0, 8.0), rng.uniform(-20.0, 20.0)]
        whole = solid(rod(outer, 0, length).translate(aside))
        hollow = solid(rod(inner, 5, length - 5).translate(aside))
        bodies.append((move(whole), [move(hollow)] if rng.random() < 0.6 else []))
    return Scene("several bodies", bodies)


def poking(rng: Rng) -> Scene:
    """A canal with a knob that comes through the cortex by 0.01 to 2 mm."""
    outer, inner, length = shaft_of(rng)
    by, knob = 10.0 ** rng.uniform(-2.0, 0.3), rng.uniform(1.5, 4.0)
    arm = Manifold.cylinder(outer + by, knob, circular_segments=16).rotate([0, 90, 0])
    hollow = rod(inner, 5, length - 5) + arm.translate([0, 0, rng.uniform(20, length - 20)])
    move = placed(rng)
    bodies = [(move(solid(rod(outer, 0, length, 128))), [move(solid(hollow))])]
    return Scene("canal through the cortex", bodies)


def ring(rng: Rng) -> Scene:
    """A ring of bone, as wide as it is high or wider; and a line across its opening."""
    outer = rng.uniform(20.0, 40.0)
    inner, height = outer * rng.uniform(0.4, 0.7), outer * rng.uniform(0.4, 1.0)
    body = rod(outer, 0, height) - rod(inner, -1, height + 1)
    return _opened("ring", body, [0, 0, height / 2], [1, 0, 0], outer, rng)


def drilled(rng: Rng) -> Scene:
    """A solid shaft with an old hole from side to side; and a line across the hole."""
    outer, _, length = shaft_of(rng)
    hole = Manifold.cylinder(4 * outer, rng.uniform(1.0, 0.4 * outer), circular_segments=24)
    at = [0, 0, rng.uniform(0.3, 0.7) * length]
    hole = hole.translate([0, 0, -2 * outer]).rotate([90, 0, 0]).translate(at)
    return _opened(
        "hole from side to side", rod(outer, 0, length) - hole, at, [1, 0, 0], outer, rng
    )


def plate(rng: Rng) -> Scene:
    """A flat bone with a great opening through it."""
    size = rng.uniform([80.0, 50.0, 15.0], [140.0, 80.0, 35.0])
    body = Manifold.cube(size.tolist(), True) - rod(0.3 * size[1], -60, 60)
    return _opened("plate with an opening", body, [0, 0, 0], [0, 1, 0], size.max(), rng)


def _opened(kind: str, body: Manifold, at: object, way: object, reach: float, rng: Rng) -> Scene:
    move = placed(rng)
    ends = np.asarray(at, float) + np.array([[-2.0 * reach], [0.0]]) * np.asarray(way, float)
    start, middle = move((ends, np.zeros((0, 3), dtype=np.int64)))[0]
    line = start, (middle - start) / np.linalg.norm(middle - start)
    return Scene(kind, [(move(solid(body)), [])], passage=line)


def slivers(rng: Rng) -> Scene:
    """Needle faces down to 0.0001 mm wide, loose or in strips, in and round a shaft."""
    scene = canal(rng)
    vertices = scene.bodies[0][0][0]
    for _ in range(int(rng.integers(1, 6))):
        a = rng.uniform(vertices.min(axis=0), vertices.max(axis=0))
        along, wide = rng.normal(size=3), rng.normal(size=3) * 10.0 ** rng.uniform(-4, -2)
        strip = np.array([a, a + wide, a + along, a + along + wide, a + 2 * along])
        scene.extra.append((strip, np.array([[0, 1, 2], [1, 3, 2], [2, 3, 4]])))
    return Scene("slivers", scene.bodies, extra=scene.extra)


def far(rng: Rng) -> Scene:
    """A shaft 1e4 to 5e6 mm from the origin, in single precision."""
    scene = canal(rng)
    away = 10.0 ** rng.uniform(4.0, 6.7) * np.sign(rng.normal(size=3))
    moved = [0.0]

    def stored(mesh: Mesh) -> Mesh:
        there = mesh[0] + away
        single = there.astype(np.float32)
        moved.append(float(np.abs(single - there).max()))
        return single.astype(np.float64), mesh[1]

    bodies = [
        (stored(outer), [stored(part) for part in hollows]) for outer, hollows in scene.bodies
    ]
    return Scene("far from the origin", bodies, moved=max(moved))


def holed(rng: Rng) -> Scene:
    """Several bones that lack some of their faces."""
    scene = several(rng)
    vertices, faces = scene.read()
    kept = rng.random(len(faces)) > 10.0 ** rng.uniform(-2.5, -1.0)
    return Scene("several bodies with holes", scene.bodies, file=(vertices, faces[kept]))


SCENES = (canal, several, poking, ring, drilled, plate, slivers, far, holed)


# --- the truth ------------------------------------------------------------------------


def crossings(mesh: Mesh, start: Floats, way: Floats) -> Floats:
    """Depths at which a line crosses triangles, sorted."""
    a, b, c = mesh[0][mesh[1]].transpose(1, 0, 2)
    one, other = b - a, c - a
    normal = np.cross(way, other)
    size = np.einsum("ij,ij->i", one, normal)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_a = start - a
        u = np.einsum("ij,ij->i", from_a, normal) / size
        cross = np.cross(from_a, one)
        v = cross @ way / size
        depth = np.einsum("ij,ij->i", other, cross) / size
        hit = (size != 0.0) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    return np.sort(depth[hit])


def true_bone(scene: Scene, start: Floats, way: Floats) -> Floats | None:
    """Runs of bone along a line, (k, 2) mm; None where the count is odd, at an edge."""
    cuts, parts = [], []
    for outer, hollows in scene.bodies:
        found = [crossings(part, start, way) for part in (outer, *hollows)]
        if any(len(depth) % 2 for depth in found):
            return None
        parts.append(found)
        cuts += found
    depth = np.unique(np.concatenate([np.zeros(0), *cuts]))
    middle = 0.5 * (depth[1:] + depth[:-1])
    inside = np.zeros(len(middle), dtype=bool)
    for outer_cuts, *hollow_cuts in parts:
        bone = np.searchsorted(outer_cuts, middle) % 2 == 1
        for cut in hollow_cuts:
            bone &= np.searchsorted(cut, middle) % 2 == 0
        inside |= bone
    edge = np.diff(np.r_[0, inside.astype(int), 0])
    return np.column_stack([depth[np.flatnonzero(edge == 1)], depth[np.flatnonzero(edge == -1)]])


# --- the comparison -------------------------------------------------------------------


def lines_of(scene: Scene, rng: Rng) -> tuple[Floats, Floats]:
    points = np.concatenate([outer[0] for outer, _ in scene.bodies])
    way = rng.normal(size=(LINES, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    return rng.uniform(points.min(axis=0), points.max(axis=0), (LINES, 3)), way


def run_scene(number: int, seed: int) -> tuple[str, Counter[str], list[str]]:
    """Kind of the scene, a tally of its lines, and what was wrong in silence."""
    rng = np.random.default_rng([seed, number])
    scene = SCENES[number % len(SCENES)](rng)
    bone = make_bone(as_surface(scene.read()))
    start, way = lines_of(scene, rng)
    told = any("in steps of" in said for said in bone.audit.cautions)
    tally: Counter[str] = Counter()
    wrong = []
    for row, outcome in enumerate(judged(scene, bone, start, way)):
        tally[outcome] += 1
        if outcome == "wrong":
            wrong.append(f"scene {number} ({scene.kind}), line {row}")
    if scene.moved > UNTOLD and not told:
        wrong.append(f"scene {number} ({scene.kind}): moved by {scene.moved} mm, and not told")
    if scene.passage is not None:
        tally["passages"] += 1
        line = Axes.along(*(np.asarray(part)[None] for part in scene.passage))
        if cast(bone, line, np.array([2.0]), ring=8).canal[0]:
            tally["wrong"] += 1
            wrong.append(f"scene {number} ({scene.kind}): its opening is taken for a canal")
    return scene.kind, tally, wrong


def judged(scene: Scene, bone: Bone, start: Floats, way: Floats) -> list[str]:
    """For each line: "right", "not known", "wrong", or "grazes" where none can say."""
    found = line_spans(bone, start, way).solid
    return [
        _outcome(found.take(np.array([row])), true_bone(scene, start[row], way[row]))
        for row in range(len(start))
    ]


def _outcome(found: Spans, truth: Floats | None) -> str:
    if truth is None or (np.diff(truth.ravel()) < GRAZE).any():
        return "grazes"
    if not found.known.all():
        return "not known"
    runs = np.column_stack([found.start, found.end])
    same = runs.shape == truth.shape and bool((np.abs(runs - truth) <= EXACT).all())
    return "right" if same else "wrong"


def main(words: list[str]) -> int:
    """Run, and print a tally; status 1 where something was wrong in silence."""
    if words[:1] == ["--only"]:
        print(*run_scene(int(words[1]), int(words[2]) if len(words) > 2 else 0), sep="\n")
        return 0
    count, seed = (*map(int, words), *(500, 0)[len(words) :])
    tallies: dict[str, Counter[str]] = {}
    faults = []
    for number in range(count):
        kind, tally, wrong = run_scene(number, seed)
        tallies.setdefault(kind, Counter()).update({"scenes": 1, **tally})
        faults += wrong
        for line in wrong:
            print(line, flush=True)
    columns = ("scenes", "right", "not known", "grazes", "passages", "wrong")
    print(f"{'scene':28s}" + "".join(f"{column:>11s}" for column in columns))
    for kind, tally in tallies.items():
        print(f"{kind:28s}" + "".join(f"{tally[column]:11d}" for column in columns))
    print(f"{count} scenes, seed {seed}: {len(faults)} wrong in silence")
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
