"""What a batch came to: counts, the tray, the slowest and the failed."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trajplan.batch._outcome import Outcome

__all__ = ["VERDICTS", "Slow", "Summary", "summarize"]

#: Verdicts in the order in which they are told.
VERDICTS = ("fail", "caution", "unknown", "pass")
#: Slowest cases that are named.
SLOWEST = 10
#: Width of a class of tilts, degrees.
TILT_STEP = 2


@dataclass(frozen=True, slots=True)
class Slow:
    """A case that took long."""

    id: str
    seconds: float
    verdict: str


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """What a batch came to."""

    cases: int
    done: int
    failed: dict[str, str]  # id -> what went wrong
    failing: dict[str, str]  # id -> rules that fail, of cases that were done
    not_run: int
    verdicts: dict[str, int]  # cases with each verdict
    rules: dict[str, dict[str, int]]  # rule -> verdict -> times, most failures first
    where: dict[str, tuple[str, ...]]  # rule -> ids of the cases in which it fails
    lengths: dict[float, int]  # mm -> screws
    tilts: dict[int, int]  # lower end of a class of `TILT_STEP` degrees, from 0 on -> screws
    tray: dict[str, int]  # implant -> how many the whole batch needs
    slowest: tuple[Slow, ...]
    seconds: float  # of all cases together

    def plain(self) -> dict[str, Any]:
        """What JSON can write.

        Returns
        -------
        dict
        """
        return asdict(self)


def summarize(outcomes: Sequence[Outcome]) -> Summary:
    """Count.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Of every case of the batch.

    Returns
    -------
    Summary
        Depends on what the cases came to, not on the order in which they were done; only
        the seconds differ from run to run.
    """
    done = [outcome for outcome in outcomes if outcome.status == "done"]
    verdicts = Counter(str(outcome.row["verdict"]) for outcome in done)
    screws = [screw for outcome in done for screw in outcome.screws]
    slow = sorted(done, key=lambda outcome: -outcome.seconds)[:SLOWEST]
    return Summary(
        cases=len(outcomes),
        done=len(done),
        failed={o.id: o.error for o in outcomes if o.status == "failed"},
        failing={o.id: str(o.row["fail"]) for o in done if o.row["verdict"] == "fail"},
        not_run=sum(outcome.status == "not run" for outcome in outcomes),
        verdicts={word: verdicts[word] for word in VERDICTS},
        rules=_rules(done),
        where=_where(done),
        lengths=dict(sorted(Counter(_known(screws, "length")).items())),
        tilts=_tilts(_known(screws, "tilt")),
        tray=_tray(done, screws),
        slowest=tuple(Slow(o.id, o.seconds, str(o.row["verdict"])) for o in slow),
        seconds=round(sum(outcome.seconds for outcome in done), 3),
    )


def _known(screws: Iterable[dict[str, Any]], name: str) -> Iterator[float]:
    return (screw[name] for screw in screws if screw[name] is not None)


def _tilts(tilts: Iterable[float]) -> dict[int, int]:
    """Screws in each class up to the last that has one; an empty class shows as a gap."""
    counts = Counter(int(tilt // TILT_STEP) for tilt in tilts)
    return {TILT_STEP * i: counts[i] for i in range(max(counts, default=-1) + 1)}


def _rules(done: Iterable[Outcome]) -> dict[str, dict[str, int]]:
    counts: dict[str, Counter[str]] = {}
    for outcome in done:
        for rule, times in outcome.rules.items():
            counts.setdefault(rule, Counter()).update(times)
    order = sorted(counts, key=lambda rule: (*(-counts[rule][word] for word in VERDICTS[:3]), rule))
    return {rule: {word: counts[rule][word] for word in VERDICTS} for rule in order}


def _where(done: Iterable[Outcome]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for outcome in done:
        for rule, times in outcome.rules.items():
            if times.get("fail"):
                found.setdefault(rule, []).append(outcome.id)
    return {rule: tuple(ids) for rule, ids in sorted(found.items())}


def _tray(done: Iterable[Outcome], screws: Iterable[dict[str, Any]]) -> dict[str, int]:
    """Screws by kind and length, washers, wires: as many as all cases together need."""
    names: Counter[tuple[str, float, str]] = Counter()
    for screw in screws:
        if screw["length"] is None:
            names[screw["kind"], float("inf"), f"{screw['kind']}, length not known"] += 1
        else:
            thread = screw["thread_length"]
            words = f"{screw['kind']} x {screw['length']:g} mm"
            words += "" if thread is None else f", {thread:g} mm thread"
            names[screw["kind"], screw["length"], words] += 1
        if screw["washer"]:
            names["~washer", 0.0, f"washer {screw['washer']}"] += 1
    for outcome in done:
        for wire in str(outcome.row["wires"]).split():
            names["~wire", 0.0, f"wire {wire}"] += 1
    return {words: count for (_, _, words), count in sorted(names.items())}
