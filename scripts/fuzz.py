"""Hand the commands broken meshes, cases and tables, and look at what they answer.

    python scripts/fuzz.py [N] [SEED]           N broken inputs, 2000 if not told; a tally
    python scripts/fuzz.py --only NUMBER [SEED] one of them, with all that it printed

Every command must answer (status 0 or 1) or refuse in one line (status 2), within 20 seconds.
What is no file, and what lies in the frame of another scan, must be refused. A plan must be
whole, must carry every caution of the audit of its bone, and may not pass where the surface is
open or a span is not known. Anything else is a fault: the tally names it and the number that
makes it again. All shapes are invented.
"""

from __future__ import annotations

import contextlib
import io
import json
import signal
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from resource import RUSAGE_SELF, getrusage
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np
import trimesh

sys.path.insert(0, str(Path(__file__).parent))  # also where the tests import this file

from fuzz_breaks import ON_BYTES, ON_CASES, ON_MESHES, ON_PLACES, ON_TABLES, Rng, encoded, shaft

from trajplan.bone import make_bone, read_surface
from trajplan.cli import main as trajplan
from trajplan.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Seconds of work that a command may take, and how often as many it may take by the clock,
#: where other programs work beside it.
PATIENCE, BESIDE = 20, 5
CASE = """\
title = "fuzz"
unit = "mm"
[bone]
mesh = "bone.{ending}"
cortex = 4.5
[fracture]
plane = {{ point = [0, 0, 50], normal = [0.5, 0, 0.8660254] }}
[[joint]]
name = "joint"
mesh = "joint.stl"
clearance = 5.0
[[avoid]]
name = "nerve"
mesh = "nerve.stl"
clearance = 4.0
[screws]
count = {count}
kinds = ["HA4.5"]
approach = {{ direction = [1, 0, 0], cone = 90 }}
candidates = 50
ring = 8
[placement]
draws = 0
[limits]
max_tilt = 20
"""
TABLE = """\
id,kind,technique,x,y,z,to_x,to_y,to_z
A,HA4.5,lag,-30,0,50,30,0,50
B,HB6.5,position,-30,2,30,30,4,45
C,HA3.5,lag,-30,-5,62,30,3,55
"""
ENDINGS = ("stl", "ply", "obj", "txt.stl")


@dataclass(frozen=True)
class Item:
    """One broken input: how it was broken, and the words that hand it over."""

    mutation: str
    words: list[str]
    bone: Path


@dataclass(frozen=True)
class Answer:
    """What came of it."""

    outcome: str
    fault: str = ""  # why the outcome is a fault; empty if it is none
    printed: str = ""


# --- one item -------------------------------------------------------------------------


def make_item(folder: Path, rng: Rng) -> Item:
    """Write a broken input into an empty folder."""
    ending = str(rng.choice(ENDINGS))
    what = str(rng.choice(list(WEIGHTS), p=list(WEIGHTS.values())))
    mesh, case, table = shaft(), _case(ending, rng).encode(), TABLE.encode()
    if what == "mesh":
        change = ON_MESHES[int(rng.integers(len(ON_MESHES)))]
        mesh = change(mesh, rng)
        name = change.__name__
    with np.errstate(all="ignore"):
        content = encoded(mesh, ending, rng)
    if what == "mesh bytes":
        content, name = _broken(content, ON_BYTES, rng)
    elif what == "case":
        text, name = _broken(case.decode(), ON_CASES, rng)
        case = text.encode()
    elif what == "case bytes":
        case, name = _broken(case, ON_BYTES, rng)
    elif what == "table":
        text, name = _broken(table.decode(), ON_TABLES, rng)
        table = text.encode()
    bone = folder / f"bone.{ending}"
    files = {bone.name: content, "case.toml": case, "axes.csv": table}
    moved = dict.fromkeys(("joint", "nerve"), 0.0)
    if what == "frame":  # a joint or a nerve of another scan
        name = str(rng.choice(list(moved)))
        moved[name] = 10.0 ** rng.uniform(2.5, 6.0)
    files["joint.stl"], files["nerve.stl"] = (
        _block(90.0, moved["joint"]),
        _block(-40.0, moved["nerve"]),
    )
    for file, data in files.items():
        (folder / file).write_bytes(data)
    if what == "place":
        name = _displaced(folder / str(rng.choice(list(files))), rng)
    return Item(f"{what}: {name}", _words(what, folder, bone, rng), bone)


def _displaced(file: Path, rng: Rng) -> str:
    """Put something that is no file in the place of one."""
    change = ON_PLACES[int(rng.integers(len(ON_PLACES)))]
    file.unlink()
    change(file)
    return f"{change.__name__} for {file.stem}"


def _case(ending: str, rng: Rng) -> str:
    return CASE.format(ending=ending, count=rng.choice([1, 1, 1, 2]))


#: How often each kind of input is broken.
WEIGHTS = {
    "mesh": 0.35, "mesh bytes": 0.2, "case": 0.2, "case bytes": 0.08, "table": 0.08,
    "place": 0.06, "frame": 0.03,
}  # fmt: skip
#: What must be refused: there is no file to read, or the thing lies in another frame.
REFUSED = ("place", "frame")


def _broken(content: Any, changes: Any, rng: Rng) -> tuple[Any, str]:
    """Break text or bytes in one of several ways, once or twice."""
    change = changes[int(rng.integers(len(changes)))]
    content = change(content, rng)
    if rng.random() < 0.3 and content:
        with contextlib.suppress(ValueError, IndexError):  # nothing is left to break
            content = change(content, rng)
    return content, change.__name__


def _words(what: str, folder: Path, bone: Path, rng: Rng) -> list[str]:
    out = ["--out", str(folder / "out")]
    plan = ["plan", str(folder / "case.toml"), "--no-picture", *out]
    check = ["check", str(folder / "case.toml"), str(folder / "axes.csv"), *out]
    if what in ("table", "place"):
        return check
    if what.startswith("mesh") and rng.random() < 0.6:
        return ["inspect", str(bone)]
    return plan if rng.random() < 0.6 else check


def _block(height: float, away: float) -> bytes:
    box = trimesh.creation.box(extents=[10.0, 10.0, 4.0])
    box.apply_translation([32.0 + away, 0.0, height])
    return bytes(box.export(file_type="stl"))


class _Hang(BaseException):
    """The time is up; no handler of the program may swallow it."""


@contextlib.contextmanager
def _alarm(seconds: int) -> Iterator[None]:
    def ring(_signal: int, _frame: object) -> NoReturn:
        raise _Hang

    clocks = {signal.SIGPROF: signal.ITIMER_PROF, signal.SIGALRM: signal.ITIMER_REAL}
    before = {kind: signal.signal(kind, ring) for kind in clocks}
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, BESIDE * seconds)
    try:
        yield
    finally:
        for kind, clock in clocks.items():
            signal.setitimer(clock, 0)
            signal.signal(kind, before[kind])


def run_item(item: Item, folder: Path) -> Answer:
    """Hand an item over and judge the answer."""
    out, err = io.StringIO(), io.StringIO()
    try:
        with _alarm(PATIENCE), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = trajplan(item.words)
    except _Hang:
        return Answer("hang", f"no answer within {PATIENCE} s")
    except BaseException as error:  # noqa: BLE001 - a fault of any kind is what is looked for
        return Answer("crash", f"{type(error).__name__}: {error}")
    printed = out.getvalue() + err.getvalue()
    return Answer(f"status {status}", _fault(status, item, folder, err.getvalue()), printed)


def _fault(status: int, item: Item, folder: Path, said: str) -> str:
    """Why an answer is a fault; empty if it is none."""
    if status == 2:
        whole = said.startswith("trajplan: ") and said.count("\n") == 1 and "; " in said
        if not whole:
            return f"no clear line: {said!r}"
        return "files were written all the same" if (folder / "out").exists() else ""
    if status not in (0, 1):
        return said or f"status {status}"
    if item.mutation.partition(":")[0] in REFUSED:
        return "taken all the same"
    if item.words[0] == "inspect":
        return ""
    name = "plan.json" if item.words[0] == "plan" else "check.json"
    return _silent(json.loads((folder / "out" / name).read_text(), parse_constant=_refuse), folder)


def _refuse(constant: str) -> NoReturn:
    message = f"{constant} in a plan"
    raise ValueError(message)


def _silent(plan: dict[str, Any], folder: Path) -> str:
    """What a plan keeps to itself."""
    used = next(mesh for mesh in plan["meshes"] if mesh["role"] == "bone")
    try:
        audit = make_bone(read_surface(folder / used["name"], plan["unit"])).audit
    except InputError as error:
        return f"planned on a bone that cannot be read: {error}"
    told = json.dumps(plan, ensure_ascii=False)
    for caution in audit.cautions:
        if json.dumps(caution, ensure_ascii=False)[1:-1] not in told:
            return f"the plan keeps this to itself: {caution}"
    if plan["verdict"] == "pass" and not (audit.closed and audit.wound):
        return "passes on a surface that is open or wound in disorder"
    for screw in plan["screws"]:
        rules = {finding["rule"]: finding["verdict"] for finding in screw["findings"]}
        if screw["unknown_intervals"] and all(verdict == "pass" for verdict in rules.values()):
            return f"screw {screw['id']} passes every rule on bone that is not known"
    return ""


def warm_up() -> None:
    """Run once what is not broken, so that no item waits for compilers and imports."""
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        make_item(Path(folder), np.random.default_rng(0))  # for the files beside the bone
        bone = Path(folder) / "bone.stl"
        bone.write_bytes(encoded(shaft(), "stl", np.random.default_rng(0)))
        case = Path(folder) / "case.toml"
        case.write_text(CASE.format(ending="stl", count=1))
        if trajplan(["plan", str(case), "--no-picture", "--out", f"{folder}/warm"]) > 1:
            message = "what is not broken is refused"
            raise SystemExit(message)


def run(count: int, seed: int) -> tuple[Counter[tuple[str, str]], list[str]]:
    """Run items ``0..count-1``: a tally of (mutation, outcome), and the faults in words."""
    tally: Counter[tuple[str, str]] = Counter()
    faults = []
    for number in range(count):
        item, answer = run_one(number, seed)
        outcome = f"fault ({answer.outcome})" if answer.fault else answer.outcome
        tally[item.mutation, outcome] += 1
        if answer.fault:
            faults.append(f"{number} {item.words[0]} {item.mutation}: {answer.fault}")
            print(faults[-1], flush=True)
    return tally, faults


def run_one(number: int, seed: int) -> tuple[Item, Answer]:
    """Make one item and hand it over."""
    with tempfile.TemporaryDirectory() as folder:
        item = make_item(Path(folder), np.random.default_rng([seed, number]))
        return item, run_item(item, Path(folder))


def main(words: list[str]) -> int:
    """Run, and print a tally; status 1 where there was a fault."""
    if words[:1] == ["--only"]:
        item, answer = run_one(int(words[1]), int(words[2]) if len(words) > 2 else 0)
        print(item.mutation, item.words[0], answer.outcome, answer.fault, answer.printed, sep="\n")
        return int(bool(answer.fault))
    count, seed = (*map(int, words), *(2000, 0)[len(words) :])
    warm_up()
    tally, faults = run(count, seed)
    outcomes = sorted({outcome for _, outcome in tally})
    print(f"{'broken':32s}" + "".join(f"{outcome:>12s}" for outcome in outcomes))
    for mutation in [*sorted({mutation for mutation, _ in tally}), "all"]:
        row = [
            sum(n for (m, o), n in tally.items() if o == outcome and mutation in {m, "all"})
            for outcome in outcomes
        ]
        print(f"{mutation:32s}" + "".join(f"{n:12d}" for n in row))
    most = getrusage(RUSAGE_SELF).ru_maxrss / 1024  # kibibytes, see getrusage(2)
    print(f"{count} broken inputs, seed {seed}: {len(faults)} faults; {most:.0f} MiB at the most")
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
