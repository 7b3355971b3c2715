"""What the first page says: verdict in one sentence, drill table, what needs a decision."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trajplan.files import TOLD, worst_word
from trajplan.show._items.plate import every_finding, every_screw
from trajplan.show._words.numbers import number
from trajplan.show._words.places import side_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.files import FindingRecord, HoleRecord, PlanFile, ScrewRecord

__all__ = [
    "DRILL_HEADS",
    "FirstPage",
    "counted",
    "first_page",
    "fitting",
    "one_sentence",
]

#: Words over the columns of the drill table; mm; holes are told as diameter to depth.
DRILL_HEADS = (
    "screw", "size", "gliding or shank hole", "thread hole", "tap", "gauge", "protrudes", "worst",
)  # fmt: skip
#: Rows of the drill table that a first page holds; the rest is counted.
ROWS = 12


@dataclass(frozen=True, slots=True)
class FirstPage:
    """The words of a first page."""

    title: str
    side: str  # of the body, and the frame
    verdict: str
    sentence: str  # what the verdict comes to
    rows: tuple[tuple[str, ...], ...]  # of the drill table, under `DRILL_HEADS`
    more_rows: int  # screws that the table has no room for
    decisions: tuple[FindingRecord, ...]  # what is neither a pass nor a note, the gravest first
    notes: int  # notes, which are only counted
    passed: int  # findings that pass


def first_page(plan: PlanFile) -> FirstPage:
    """Gather what a first page says.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    FirstPage
    """
    found = every_finding(plan)
    screws = every_screw(plan)
    counts = Counter(f.verdict for f in found)
    weight = {word: rank for rank, word in enumerate(TOLD)}
    grave = [f for f in found if f.verdict in weight and f.verdict != "note"]
    return FirstPage(
        title=plan.title or plan.case.name,
        side=side_text(plan),
        verdict=plan.verdict,
        sentence=one_sentence(plan),
        rows=tuple(_row(screw) for screw in screws[:ROWS]),
        more_rows=max(len(screws) - ROWS, 0),
        decisions=tuple(sorted(grave, key=lambda f: weight[f.verdict])),
        notes=counts["note"],
        passed=counts["pass"],
    )


def one_sentence(plan: PlanFile) -> str:
    """The verdict of a plan in one sentence.

    Parameters
    ----------
    plan : PlanFile
        The plan.

    Returns
    -------
    str
        It counts findings: a rule that fails for two screws is two of them.
    """
    if not every_screw(plan):
        return "The plan holds no screw."
    counts = Counter(f.verdict for f in every_finding(plan))
    if counts["fail"]:
        verb, what = ("fails", "this") if counts["fail"] == 1 else ("fail", "them")
        said = f"{counted(counts['fail'], 'finding')} {verb}"
        parts = [f"{said}: settle {what} before the plan is used"]
    elif plan.verdict == "fail":
        parts = ["The plan as a whole fails: settle this before the plan is used"]
    else:
        parts = ["No rule failed"]
    if counts["caution"]:
        verb = "asks" if counts["caution"] == 1 else "ask"
        parts.append(f"{counted(counts['caution'], 'finding')} {verb} for a decision")
    if counts["unknown"]:
        parts.append(f"{counted(counts['unknown'], 'question')} cannot be told from the input")
    return "; ".join(parts) + "."


def fitting(
    findings: Sequence[FindingRecord], room: int, lines: Callable[[FindingRecord], int]
) -> tuple[tuple[FindingRecord, ...], int]:
    """Take as many findings as there is room for, none cut short.

    Parameters
    ----------
    findings : sequence of FindingRecord
        The gravest first.
    room : int
        Lines that there are.
    lines : callable
        Lines that a finding takes.

    Returns
    -------
    told : tuple of FindingRecord
    left : int
        How many are left out; where there are any, a line is kept free to count them.
    """
    used = 0
    for told, finding in enumerate(findings):
        used += lines(finding)
        last = told == len(findings) - 1
        if used > room - (not last):
            return tuple(findings[:told]), len(findings) - told
    return tuple(findings), 0


def _row(screw: ScrewRecord) -> tuple[str, ...]:
    if screw.entry is None or screw.length is None:
        none = "\N{EN DASH}"
        return (screw.id, f"{screw.kind}, no length", *[none] * 5, worst_word(screw.findings))
    blind = screw.hold == "unicortical"
    washer = f", washer {screw.washer}" if screw.washer else ""
    return (
        screw.id,
        f"{screw.size}{washer}",
        _hole(screw.gliding_hole or screw.shank_hole),
        _hole(screw.thread_hole),
        _hole(screw.tap),
        "blind hole" if blind else number(screw.gauge),
        "\N{EN DASH}" if blind else number(screw.proud_tip),
        worst_word(screw.findings),
    )


def _hole(hole: HoleRecord | None) -> str:
    return "\N{EN DASH}" if hole is None else f"{hole.diameter:g} to {number(hole.end)}"


def counted(count: int, what: str) -> str:
    """Write a number of things.

    Parameters
    ----------
    count : int
        How many.
    what : str
        One of them.

    Returns
    -------
    str
    """
    return f"{count} {what}" + ("" if count == 1 else "s")
