"""How the fragments lie to one another: a plan on fragments that are not reduced is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.checks._types import Finding, Verdict, grade
from trajplan.fracture import pair_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trajplan.arrays import Vec3
    from trajplan.checks._limits import Limits
    from trajplan.fracture import PairReport

__all__ = [
    "NOT_REDUCED",
    "fragments_gap",
    "fragments_overlap",
    "fragments_step",
    "fragments_turn",
]

#: Rules that fail where the fragments are not reduced: nothing may then be drilled, for once
#: they are, every depth and direction is another.
NOT_REDUCED = ("fragments_gap", "fragments_step", "fragments_turn", "fragments_overlap")

_AGAIN = (
    "they are not reduced, so no depth holds. Put them together with `trajplan reduce CASE --out "
    "DIR`, and plan DIR/case.toml."
)


@dataclass(frozen=True, slots=True)
class _Judged:
    """What one rule says of one pair."""

    verdict: Verdict
    measured: float
    limit: float
    why: str


def fragments_overlap(reports: Sequence[PairReport], limits: Limits) -> Finding | None:
    """Judge how far fragments run into one another, as no bone can.

    Parameters
    ----------
    reports : sequence of PairReport
        One for each pair of fragments that face each other.
    limits : Limits
        ``overlap`` cautions, ``overlap_most`` fails, mm.

    Returns
    -------
    Finding or None
        For the plan as a whole, on the pair that overlaps most; None where the bone is not
        in fragments.
    """

    def judge(report: PairReport) -> _Judged:
        depth, who = report.overlap.depth, pair_name(report.fragments)
        word, limit = _graded(depth, limits.overlap, limits.overlap_most)
        lies = (
            f"{who} overlap by up to {depth:.1f} mm at {_place(report.overlap.where)}, "
            f"{report.overlap.volume:.0f} mm³ in all"
        )
        said = {
            Verdict.PASS: f"Fragments overlap by {depth:.1f} mm at the most, and up to "
            f"{limits.overlap:.1f} mm is noise.",
            Verdict.CAUTION: f"{lies}: no bone can lie like that; decide whether the segmentation "
            "explains it, or reduce them again.",
            Verdict.FAIL: f"{lies}: no bone can lie like that, and {_AGAIN}",
            Verdict.UNKNOWN: f"Whether {who} overlap cannot be told.",
        }
        return _Judged(word, depth, limit, said[word])

    return _worst("fragments_overlap", "mm", "geometry; limits: assumption", map(judge, reports))


def fragments_gap(reports: Sequence[PairReport], limits: Limits) -> Finding | None:
    """Judge how far apart the fragments lie.

    Parameters
    ----------
    reports : sequence of PairReport
        One for each pair of fragments that face each other.
    limits : Limits
        ``fragment_gap`` cautions, ``fragment_gap_most`` fails, mm.

    Returns
    -------
    Finding or None
        Measures the gap that nine tenths of the facing surface stay below, on the pair that
        gapes most: a chip that is missing somewhere opens no fracture.
    """

    def judge(report: PairReport) -> _Judged:
        gap, who = max(report.gap.wide, 0.0), pair_name(report.fragments)
        word, limit = _graded(gap, limits.fragment_gap, limits.fragment_gap_most)
        said = {
            Verdict.PASS: f"{who} lie within {gap:.1f} mm of each other on nine tenths of the "
            "fracture.",
            Verdict.CAUTION: f"{who} lie up to {gap:.1f} mm apart on nine tenths of the fracture: "
            "decide whether the screws are to close this gap, or reduce them first.",
            Verdict.FAIL: f"{who} lie up to {gap:.1f} mm apart on nine tenths of the fracture: "
            f"{_AGAIN} If they are two bones with a joint between, take one with bone.body.",
            Verdict.UNKNOWN: f"How far apart {who} lie cannot be told.",
        }
        return _Judged(word, gap, limit, said[word])

    return _worst("fragments_gap", "mm", _DISPLACED, map(judge, reports))


def fragments_step(reports: Sequence[PairReport], limits: Limits) -> Finding | None:
    """Judge how far the outer surfaces of the fragments stand apart along their rim.

    Parameters
    ----------
    reports : sequence of PairReport
        One for each pair of fragments that face each other.
    limits : Limits
        ``fragment_step`` cautions where the largest step is above it, ``fragment_step_most``
        fails where a tenth of the rim is, mm.

    Returns
    -------
    Finding or None
        Measures the step that it speaks of; on the pair that is worst.
    """

    def judge(report: PairReport) -> _Judged:
        step, who = report.step, pair_name(report.fragments)
        measured = step.wide if step.wide > limits.fragment_step_most else step.largest
        word, limit = _graded(measured, limits.fragment_step, np.inf)
        if step.wide > limits.fragment_step_most:
            word, limit = Verdict.FAIL, limits.fragment_step_most
        said = {
            Verdict.PASS: f"The outer surfaces of {who} stand no more than {measured:.1f} mm apart "
            "in height along their rim.",
            Verdict.CAUTION: f"{who} stand {measured:.1f} mm apart in height at "
            f"{_place(step.where)}: decide whether that is near enough; on a joint surface 2 mm "
            "is the usual limit.",
            Verdict.FAIL: f"{who} stand {measured:.1f} mm and more apart in height on a tenth of "
            f"their rim: {_AGAIN}",
            Verdict.UNKNOWN: f"How far the outer surfaces of {who} stand apart cannot be told: "
            "they were not found along the rim of the fracture.",
        }
        return _Judged(word, measured, limit, said[word])

    return _worst("fragments_step", "mm", _DISPLACED, map(judge, reports))


def fragments_turn(reports: Sequence[PairReport], limits: Limits) -> Finding | None:
    """Judge how far the fragments are turned against each other.

    Parameters
    ----------
    reports : sequence of PairReport
        One for each pair of fragments that face each other.
    limits : Limits
        ``fragment_turn`` cautions, ``fragment_turn_most`` fails, degrees.

    Returns
    -------
    Finding or None
        Measures the turn that gap and step betray, on the pair that is worst. Unknown where
        it is small and a turn about some axis would not show, neither on the pair's own fracture
        nor through a third fragment, such as a wedge, whose fractures with both show every turn.
    """

    def judge(report: PairReport) -> _Judged:
        angle, who = report.turn.angle, pair_name(report.fragments)
        if report.turn.blind:
            through = _turn_through(reports, *report.fragments)
            angle = angle if np.isnan(through) else max(angle, through)
        word, limit = _graded(angle, limits.fragment_turn, limits.fragment_turn_most)
        if word is Verdict.PASS and report.turn.blind and np.isnan(through):
            word = Verdict.UNKNOWN
        said = {
            Verdict.PASS: f"{who} are turned by {angle:.1f} degrees against each other.",
            Verdict.CAUTION: f"{who} are turned by {angle:.1f} degrees against each other: decide "
            "whether that is near enough, and compare the rotation with the other side.",
            Verdict.FAIL: f"{who} are turned by {angle:.1f} degrees against each other: {_AGAIN}",
            Verdict.UNKNOWN: f"Gap and step of {who} show a turn of {angle:.1f} degrees, but the "
            "fracture is so round that a turn about some axis would not show: check the rotation "
            "otherwise.",
        }
        return _Judged(word, angle, limit, said[word])

    return _worst(
        "fragments_turn",
        "degrees",
        "PubMed 23934503, abstract (femur: 10 degrees and more are felt); limits: assumption",
        map(judge, reports),
    )


def _turn_through(reports: Sequence[PairReport], first: int, second: int) -> float:
    """Greatest turn between two fragments that others tell of, degrees; NaN: none tells.

    Two turns in a row turn by no more than their sum: the shortest way over pairs whose
    fracture shows every turn bounds the turn of a pair whose own fracture hides it.
    """
    least, reached = {first: 0.0}, {first}
    while reached:
        here = min(reached, key=lambda fragment: least[fragment])
        reached.discard(here)
        for report in reports:
            if report.turn.blind or here not in report.fragments:
                continue
            (other,) = set(report.fragments) - {here}
            way = least[here] + report.turn.angle
            if way < least.get(other, np.inf):
                least[other] = way
                reached.add(other)
    return least.get(second, np.nan)


_DISPLACED = (
    "Assessment of Articular Displacement of Distal Radius Fractures, abstract (step or gap above "
    "1 to 2 mm is reduced); 2 mm is the usual limit of an articular step (common practice)"
)


def _graded(value: float, caution: float, fail: float) -> tuple[Verdict, float]:
    verdict, limit = grade(np.array([value]), caution_above=caution, fail_above=fail)
    return Verdict(int(verdict[0])), float(limit[0])


def _worst(rule: str, unit: str, source: str, judged: Iterable[_Judged]) -> Finding | None:
    """Finding on the pair that is worst."""
    answers = list(judged)
    if not answers:
        return None
    worst = max(answers, key=lambda answer: (answer.verdict, np.nan_to_num(answer.measured)))
    return Finding(
        rule=rule,
        subject="plan",
        verdict=worst.verdict,
        measured=worst.measured if np.isfinite(worst.measured) else None,
        limit=worst.limit,
        unit=unit,
        why=worst.why,
        source=source,
    )


def _place(point: Vec3) -> str:
    return "({:.1f}, {:.1f}, {:.1f})".format(*point)
