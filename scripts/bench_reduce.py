"""Reduce simulated fractures whose truth is known, and print how near the answer comes.

    python scripts/bench_reduce.py ROWS.jsonl --kinds oblique spiral --seeds 0 8
    python scripts/bench_reduce.py ROWS.jsonl --table

Rows are added to the file, so that a long run can be cut into parts; a case that stands there
already is not run again. Seeds from 1000 on are for setting limits (`--tune` prints what each
measure is where the answer is right and where it is wrong), those below for the table.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import asdict, astuple, dataclass
from itertools import product
from pathlib import Path

import numpy as np
from reduce_breaks import BONES, END_KINDS, ENDS, KINDS, Broken, break_bone
from scipy.spatial.transform import Rotation

from trajplan.reduction import Fragment, Hint, Reduction, Settings, reduce_fragments

#: mm and degrees: an answer is right below the first, and wrong above the second.
RIGHT, WRONG = (1.0, 5.0), (2.0, 10.0)
#: Bones so thin and round that a fracture has little lever: told apart.
THIN = ("radius", "fibula", "clavicle")
THICK = tuple(bone for bone in BONES if bone not in THIN)
#: mm: usual noise of an image's surface.
NOISE = 0.2
MEASURES = (
    "contact", "gap_mean", "gap_90", "gap_largest", "step_mean", "step_largest", "overlap",
    "rival", "steady_shift", "steady_turn", "agree_shift", "agree_turn",
)  # fmt: skip


@dataclass(frozen=True)
class Given:
    """What a case is made of, besides bone, kind and seed."""

    noise: float
    slab: float
    voxel: float
    hints: bool


#: mm: by how much a hint misses the point that it means.
ROUGH_HINT = 3.0


def run(bone: str, kind: str, seed: int, given: Given) -> dict[str, object] | None:
    """One case; None where the draw gave a crumb for a piece."""
    try:
        broken = break_bone(bone, kind, seed, noise=given.noise, slab=given.slab, voxel=given.voxel)
    except ValueError:
        return None
    fragments = [
        Fragment(f"piece {k + 1}", piece.vertices, piece.faces)
        for k, piece in enumerate(broken.pieces)
    ]
    settings = Settings(hints=hints(broken, seed)) if given.hints else Settings()
    start, clock = time.process_time(), time.perf_counter()
    found = reduce_fragments(fragments, settings)
    return {
        "bone": bone, "kind": kind, "seed": seed, **asdict(given), "sure": found.sure,
        "cpu": time.process_time() - start, "wall": time.perf_counter() - clock,
        "faces": sum(len(piece.faces) for piece in broken.pieces),
        "errors": errors(broken, found), "doubts": list(found.doubts),
        "covered": float(np.nanmin(found.covered)) if found.covered else 0.0,
        "length_known": all(fit.length_known for fit in found.pairs) and bool(found.pairs),
        "moved": any(not np.allclose(pose.matrix, np.eye(4)) for pose in found.poses),
        "pairs": [
            {name: getattr(fit, name) for name in MEASURES}
            | {"turn_spread": fit.slides.turn, "along": fit.slides.along,
               "turn_known": fit.turn_known, "ends": [fit.first, fit.second]}
            for fit in found.pairs
        ],
    }  # fmt: skip


def hints(broken: Broken, seed: int) -> tuple[Hint, ...]:
    """A rough hint for each piece: the middle of its break, and the nearest point of another."""
    rng = np.random.default_rng(seed)
    whole = [p.vertices @ p.back[:3, :3].T + p.back[:3, 3] for p in broken.pieces]
    told = []
    for number in range(1, len(broken.pieces)):
        middle = broken.fracture[number].mean(axis=0)
        ends = [points[((points - middle) ** 2).sum(axis=1).argmin()] for points in whole]
        off = [np.linalg.norm(end - middle) for end in ends]
        other = int(np.argmin(off[:number]))
        points = []
        for k in (other, number):
            there = np.linalg.inv(broken.pieces[k].back)
            way = rng.normal(size=3)
            point = ends[k] + ROUGH_HINT * way / np.linalg.norm(way)
            points.append(there[:3, :3] @ point + there[:3, 3])
        told.append(Hint((other, number), (points[0], points[1])))
    return tuple(told)


def errors(broken: Broken, found: Reduction) -> list[tuple[float, float, float, float]]:
    """Of each piece against the first: mm at the fracture, degrees, about the axis, mm along it."""
    fixed = found.poses[0].back()
    out = []
    for piece, pose, points in list(zip(broken.pieces, found.poses, broken.fracture, strict=True))[
        1:
    ]:
        still = fixed.after(pose).matrix @ np.linalg.inv(piece.back)
        way = points @ still[:3, :3].T + still[:3, 3] - points
        turn = Rotation.from_matrix(still[:3, :3]).as_rotvec()
        out.append(
            (
                float(np.sqrt((way**2).sum(axis=1).mean())),
                float(np.degrees(np.linalg.norm(turn))),
                float(np.degrees(abs(turn @ broken.axis))),
                float((way @ broken.axis).mean()),
            )
        )
    return out


def state(row: dict[str, object]) -> str:
    """Right, fair, wrong, or short: wrong in the length alone, which is told as unknown."""
    if not row["moved"]:
        return "none"
    mm, degrees, _, along = np.array(row["errors"]).T
    if mm.max() < RIGHT[0] and degrees.max() < RIGHT[1]:
        return "right"
    if mm.max() <= WRONG[0] and degrees.max() <= WRONG[1]:
        return "fair"
    aside = np.sqrt(np.maximum(mm**2 - along**2, 0.0))
    only_length = aside.max() <= WRONG[0] and degrees.max() <= WRONG[1]
    return "short" if only_length and not row["length_known"] else "wrong"


def table(rows: list[dict[str, object]]) -> None:
    """What `trajplan help bench` holds."""
    print(
        "| fracture | bones | cases | mm med / p90 | degrees med / p90 | right | right, unsure "
        "| fair, sure | told unsure | not moved | short, told | wrong, sure | CPU s |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for bones, group in (("thick", THICK), ("thin", THIN), ("end", tuple(ENDS))):
        own = [row for row in rows if row["bone"] in group]
        for kind in dict.fromkeys(map(named, own)):
            print(line([row for row in own if named(row) == kind], kind, bones))
        plain = [row for row in own if named(row) == row["kind"]]
        if plain:
            print(line(plain, "all as above" if len(plain) == len(own) else "all plain", bones))


def named(row: dict[str, object]) -> str:
    """The fracture, and what is unusual about its image."""
    unusual = [
        f"noise {row['noise']} mm" if row["noise"] != NOISE else "",
        f"{row['slab']:.0f} mm lost" if row["slab"] else "",
        "hints" if row["hints"] else "",
    ]
    return ", ".join([str(row["kind"]), *filter(None, unusual)])


def line(rows: list[dict[str, object]], kind: str, bones: str) -> str:
    """One line of the table."""
    worst = np.array(
        [np.max(np.array(r["errors"])[:, :2], axis=0) for r in rows if r["moved"]] or [[np.nan] * 2]
    )
    states = [state(row) for row in rows]
    sure = [bool(row["sure"]) for row in rows]
    counts = [
        states.count("right"),
        sum(s == "right" and not t for s, t in zip(states, sure, strict=True)),
        sum(s == "fair" and t for s, t in zip(states, sure, strict=True)),
        sum(s not in ("right", "none") and not t for s, t in zip(states, sure, strict=True)),
        states.count("none"),
        sum(s == "short" and t for s, t in zip(states, sure, strict=True)),
        sum(s == "wrong" and t for s, t in zip(states, sure, strict=True)),
    ]
    med, p90 = np.median(worst, axis=0), np.percentile(worst, 90, axis=0)
    return (
        f"| {kind} | {bones} | {len(rows)} | {med[0]:.2f} / {p90[0]:.2f} | {med[1]:.1f} / "
        f"{p90[1]:.1f} | {' | '.join(map(str, counts))} | "
        f"{np.median([r['cpu'] for r in rows]):.1f} |"
    )


def tune(rows: list[dict[str, object]]) -> None:
    """What each measure is, in its worst pair, where the answer is right, fair and wrong."""
    for name in MEASURES:
        worst = min if name == "contact" else max
        for kind in ("right", "fair", "wrong"):
            values = [
                worst(p[name] for p in r["pairs"]) for r in rows if state(r) == kind and r["pairs"]
            ]
            values = [v for v in values if np.isfinite(v)]
            if values:
                print(
                    f"{name:14s} {kind:6s} {len(values):4d}  "
                    + "  ".join(
                        f"{q}%: {np.percentile(values, q):.2f}" for q in (0, 5, 25, 50, 75, 95, 100)
                    )
                )


def key(row: dict[str, object]) -> tuple[object, ...]:
    """What tells a case from all others."""
    return tuple(row[name] for name in ("bone", "kind", "seed", "noise", "slab", "voxel", "hints"))


def main() -> None:
    """Run what is asked, then print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("rows", type=Path)
    parser.add_argument("--bones", nargs="*", default=list(BONES), choices=[*BONES, *ENDS])
    parser.add_argument("--kinds", nargs="*", default=list(KINDS), choices=[*KINDS, *END_KINDS])
    parser.add_argument("--seeds", nargs=2, type=int, default=(0, 0))
    parser.add_argument("--noise", type=float, default=NOISE, help="mm")
    parser.add_argument("--slab", type=float, default=0.0, help="mm lost evenly over the break")
    parser.add_argument("--voxel", type=float, default=0.8, help="mm; 1.1 halves the faces")
    parser.add_argument("--hints", action="store_true", help="a rough hint for each piece")
    parser.add_argument("--seconds", type=float, default=280.0, help="stop after so long")
    parser.add_argument("--table", action="store_true")
    parser.add_argument("--tune", action="store_true")
    args = parser.parse_args()
    rows = (
        [json.loads(text) for text in args.rows.read_text().splitlines()]
        if args.rows.exists()
        else []
    )
    given = Given(args.noise, args.slab, args.voxel, args.hints)
    known = {key(row) for row in rows}
    start = time.monotonic()
    with args.rows.open("a") as file:
        for seed, kind, bone in product(range(*args.seeds), args.kinds, args.bones):
            if (bone in ENDS) != (kind in END_KINDS) or time.monotonic() - start > args.seconds:
                continue
            if (bone, kind, seed, *astuple(given)) in known:
                continue
            row = run(bone, kind, seed, given)
            if row is not None:
                rows.append(row)
                print(json.dumps(row), file=file, flush=True)
    if args.tune:
        tune(rows)
    if args.table:
        table(rows)


if __name__ == "__main__":
    main()
