"""Break the program on purpose, one line at a time, and see which tests notice.

usage: python scripts/mutants.py [--family NAME] [--list]

Each mutant changes one line of the package, runs the tests that ought to see it, and is put back.
One that no test sees is printed as "lives"; the exit status is 1 then. Nothing may be uncommitted
in `trajplan/`: what is put back is what was committed.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "trajplan"


@dataclass(frozen=True)
class Mutant:
    """One line in another way."""

    family: str
    file: str
    line: int  # from 0
    old: str
    new: str
    tests: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.file}:{self.line + 1}: {self.old.strip()} -> {self.new.strip() or '(gone)'}"


def every(family: str, file: str, pattern: str, new: str, *tests: str) -> Iterator[Mutant]:
    """A mutant of each line of a file that a pattern finds; `new` as for `re.sub`."""
    lines = (PACKAGE / file).read_text(encoding="utf-8").splitlines()
    found = [i for i, line in enumerate(lines) if re.search(pattern, line)]
    if not found:
        raise SystemExit(f"{family}: nothing in {file} is like {pattern!r}: mend this list")
    for i in found:
        yield Mutant(family, file, i, lines[i], re.sub(pattern, new, lines[i]), tests)


CHECKS = "tests/unit/checks"
WALLS = "tests/unit/checks/test_wall_breach.py"
HOLES = "tests/unit/trajectory/test_holes.py"
HANDS = "tests/unit/tolerance"


def mutants() -> Iterator[Mutant]:
    """All of them."""
    # what cannot be told passes for told
    for name in ("head", "plunge", "shaft", "tip", "clearance", "guide", "wall"):
        doubt = r"doubt=(lengthwise & )?~screws\.corridors\.decided"
        yield from every("doubt", f"checks/_{name}.py", doubt, "doubt=None", CHECKS)
    yield from every("doubt", "checks/_crossing.py", r"^ +doubt=.*$", "", CHECKS)
    yield from every("doubt", "checks/_thread.py", r"^ +doubt=doubt,$", "", CHECKS)
    # rules that the tries of hands leave out
    rule = r'^    "(meets_bone|[a-z]+_[a-z_]+|tilt|purchase)",$'
    yield from every("tries", "tolerance/_placement.py", rule, "", HANDS)
    unknown = r" \| \(ruling\.verdict == Verdict\.UNKNOWN\)"
    yield from every("tries", "tolerance/_placement.py", unknown, "", HANDS)
    # limits of geometry
    wall = "checks/_wall.py"
    yield from every("walls", wall, r"^ROUNDNESS = 0\.25", "ROUNDNESS = 0.5", WALLS)
    yield from every("walls", wall, r"^ROUNDNESS_FLAT = 0\.5", "ROUNDNESS_FLAT = 1.5", WALLS)
    yield from every("walls", wall, r"^STEEPEST = 60\.0", "STEEPEST = 75.0", WALLS)
    # which set is chosen, and what adds up
    best = r"rivals\[int\(np\.argmax\(worth\)\)\]"
    yield from every("choice", "planner/_rivals.py", best, "rivals[0]", "tests/unit/planner")
    for word in ("holds_rotation", "fractures_closed", "slip", "contact_share", "opening_load"):
        named = rf'^(SUMS = .*)"{word}",? ?'
        yield from every("sums", "planner/_assess.py", named, r"\1", "tests/unit/planner")
    # inputs whose change a batch must see
    for what in (r"\*case\.catalogue", r"\*case\.bone\.paths", r"case\.bone\.reduction",
                 r"case\.fracture\.mesh", r"\*\(joint\.mesh.*\)", r"\*\(avoid\.mesh.*\)",
                 r"\*_slices\(case\)"):  # fmt: skip
        yield from every(
            "inputs", "batch/_inputs.py", rf"^ +{what},$", "", "tests/unit/batch/test_inputs.py"
        )
    # holes and torques
    holes = "trajectory/_holes.py"
    yield from every("holes", holes, r"np\.ceil\(deep", "np.floor(deep", HOLES)
    yield from every("holes", holes, r" - ROUNDING\)", ")", HOLES)
    torque = "mechanics/_torque.py"
    forces = ("tests/unit/mechanics", "tests/reference/test_measured_forces.py")
    yield from every("torque", torque, r"1312\.0, 2\.4", "1500.0, 2.4", *forces)
    yield from every("torque", torque, r"1312\.0, 2\.4", "1312.0, 2.8", *forces)
    yield from every("torque", torque, r"0\.66 / 0\.82", "0.80 / 0.82", *forces)
    yield from every("torque", torque, r"0\.86 / 0\.82", "0.82 / 0.82", *forces)
    yield from every("torque", torque, r"^USEFUL_SHARE = 0\.8", "USEFUL_SHARE = 0.95", *forces)
    # joints that nobody named
    joint, squares = "checks/_joint_given.py", "tests/unit/checks/test_joint_given.py"
    yield from every("joints", joint, r"^TO_JOINT = 5\.0", "TO_JOINT = 0.0", squares)
    yield from every("joints", joint, r" or around\.end", "", squares)
    yield from every("joints", joint, r"reach \+= \[radius, radius\]",
                     "reach += [0.0 * radius, 0.0 * radius]", squares)  # fmt: skip
    yield from every("joints", "bone/_shaft.py", r"\(above & below\)", "(above)", squares)
    yield from every("joints", "bone/_shaft.py", r"\(above & below\)", "(below)", squares)


def seen(mutant: Mutant) -> bool:
    """Whether some test fails with a mutant in place."""
    path = PACKAGE / mutant.file
    whole = path.read_text(encoding="utf-8")
    lines = whole.splitlines(keepends=True)
    lines[mutant.line] = mutant.new + "\n"
    try:
        path.write_text("".join(lines), encoding="utf-8")
        words = ["-q", "-x", "-n", "0", "-p", "no:cacheprovider", *mutant.tests]
        done = subprocess.run(
            [sys.executable, "-m", "pytest", *words], cwd=ROOT, capture_output=True, check=False
        )
    finally:
        path.write_text(whole, encoding="utf-8")
    return done.returncode != 0


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--family", help="only these")
    parser.add_argument("--list", action="store_true", help="print them and stop")
    args = parser.parse_args()
    chosen = [m for m in mutants() if args.family in (None, m.family)]
    if args.list:
        print(*chosen, sep="\n")
        return 0
    dirty = subprocess.run(
        ["git", "status", "--porcelain", "trajplan"], cwd=ROOT, capture_output=True, check=True
    ).stdout
    if dirty:
        raise SystemExit("trajplan/ holds changes that are not committed: commit them first")
    alive = 0
    for mutant in chosen:
        start = time.perf_counter()
        dies = seen(mutant)
        alive += not dies
        took = time.perf_counter() - start
        print(f"{'dies ' if dies else 'LIVES'} {took:5.0f} s  {mutant}", flush=True)
    print(f"{len(chosen)} mutants, {alive} of them live")
    return 1 if alive else 0


if __name__ == "__main__":
    raise SystemExit(main())
