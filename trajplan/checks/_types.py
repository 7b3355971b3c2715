"""Verdicts and findings: what a rule answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from math import isfinite
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import ArrayLike

    from trajplan.arrays import Bools, Floats, Int8s

__all__ = ["DOES_NOT_APPLY", "Finding", "Ruling", "Verdict", "digits_apart", "grade", "worst"]

#: In `Ruling.verdict`: the rule has nothing to say of this subject, and makes no finding.
DOES_NOT_APPLY = -1


VerdictWord: TypeAlias = Literal["pass", "note", "unknown", "caution", "fail"]
_WORDS: tuple[VerdictWord, ...] = ("pass", "note", "unknown", "caution", "fail")


class Verdict(IntEnum):
    """The answers of a rule, in the order in which they weigh.

    A caution needs a decision, and says which; a note is worth knowing and needs none, such
    as an assumption or a fact of the tray, and makes no plan worse than a pass.
    """

    PASS = 0
    NOTE = 1
    UNKNOWN = 2
    CAUTION = 3
    FAIL = 4

    @property
    def word(self) -> VerdictWord:
        """The verdict as files and tables write it."""
        return _WORDS[self.value]


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule's answer for one subject."""

    rule: str
    subject: str  # id of a screw, "screw 1 + screw 2" for a pair, or "plan"
    verdict: Verdict
    measured: float | None
    limit: float | None
    unit: str
    why: str  # one sentence that a surgeon reads
    source: str  # standard, paper or "common practice"


@dataclass(frozen=True, slots=True, eq=False)
class Ruling:
    """One rule's answer for ``n`` subjects at once."""

    rule: str
    verdict: Int8s  # (n,) values of `Verdict`, or `DOES_NOT_APPLY`
    measured: Floats  # (n,) NaN where there is nothing to measure
    limit: Floats  # (n,) the limit that the verdict was taken at; NaN where there is none
    unit: str
    source: str
    sentences: Mapping[Verdict, str]  # templates with {measured}, {limit} and {remark}
    #: What {remark} stands for in a row. Asked for the findings that are written, and not for
    #: thousands of candidates of which nobody reads a word.
    remark: Callable[[int], str] | None = None
    #: Sentences for a measure below zero, in which {measured} stands for so much past zero:
    #: nobody should read of a distance of -3.2 mm.
    below: Mapping[Verdict, str] = field(default_factory=dict)
    #: What is said instead in a row whose answer was taken away because it rests on a hole of
    #: the surface (`trajplan.checks._rests`); empty elsewhere.
    doubted: Callable[[int], str] | None = None

    def findings(self, subjects: Sequence[str]) -> list[Finding]:
        """Write the answers out, one finding a subject.

        Parameters
        ----------
        subjects : sequence of str, length n
            Ids of the subjects.

        Returns
        -------
        list of Finding
            Subjects that the rule does not apply to are left out.
        """
        # plain numbers: a long table has a thousand times as many findings as a plan
        rows = zip(
            subjects,
            self.verdict.tolist(),
            self.measured.tolist(),
            self.limit.tolist(),
            strict=True,
        )
        return [
            self._finding(i, subject, Verdict(verdict), measured, limit)
            for i, (subject, verdict, measured, limit) in enumerate(rows)
            if verdict != DOES_NOT_APPLY
        ]

    def _finding(
        self, i: int, subject: str, verdict: Verdict, measured: float, limit: float
    ) -> Finding:
        digits = digits_apart(measured, limit)
        doubted = "" if self.doubted is None else self.doubted(i)
        sentence = doubted or self.sentences[verdict]
        if measured < 0.0 and verdict in self.below:
            sentence = self.below[verdict]
        why = sentence.format(
            measured=f"{abs(measured):.{digits}f} {self.unit}".strip(),
            limit=f"{limit:.{digits}f} {self.unit}".strip(),
            remark="" if self.remark is None else self.remark(i),
        )
        return Finding(
            rule=self.rule,
            subject=subject,
            verdict=verdict,
            measured=measured if isfinite(measured) else None,
            limit=limit if isfinite(limit) else None,
            unit=self.unit,
            why=why,
            source=self.source,
        )


def digits_apart(measured: float, limit: float) -> int:
    """Decimals that tell a measure from its limit: 1.98 is less than 2.00, not 2.0 than 2.0.

    Parameters
    ----------
    measured, limit : float
        In one unit; NaN where there is none.

    Returns
    -------
    int
    """
    if measured == limit or not (isfinite(measured) and isfinite(limit)):
        return 1
    return next((d for d in (1, 2) if round(measured, d) != round(limit, d)), 3)


def grade(
    measured: Floats,
    *,
    fail_below: ArrayLike | None = None,
    caution_below: ArrayLike | None = None,
    note_below: ArrayLike | None = None,
    note_above: ArrayLike | None = None,
    caution_above: ArrayLike | None = None,
    fail_above: ArrayLike | None = None,
    applies: Bools | None = None,
    doubt: Bools | None = None,
) -> tuple[Int8s, Floats]:
    """Grade measured values against limits; a limit that is just met passes.

    Parameters
    ----------
    measured : (n,) float array
        Values; NaN is unknown.
    fail_below, caution_below, note_below : float or (n,) array, optional
        Lower limits; absent ones are not looked at.
    note_above, caution_above, fail_above : float or (n,) array, optional
        Upper limits.
    applies : (n,) bool array, optional
        Where the rule has something to say.
    doubt : (n,) bool array, optional
        Where anything but a fail could not be vouched for: it becomes unknown.

    Returns
    -------
    verdict : (n,) int8 array
    limit : (n,) float array
        The limit that decided; for a pass, the one that would be met first.
    """
    verdict = np.full(len(measured), int(Verdict.PASS), dtype=np.int8)
    limit = np.full(len(measured), np.nan)
    steps = (
        (note_below, Verdict.NOTE, -1.0),
        (note_above, Verdict.NOTE, 1.0),
        (caution_below, Verdict.CAUTION, -1.0),
        (caution_above, Verdict.CAUTION, 1.0),
        (fail_below, Verdict.FAIL, -1.0),
        (fail_above, Verdict.FAIL, 1.0),
    )
    for bound, weight, side in steps:
        if bound is None:
            continue
        wide = np.broadcast_to(np.asarray(bound, dtype=np.float64), measured.shape)
        broken = side * (measured - wide) > LIMIT_SLACK
        limit = np.where(broken | np.isnan(limit), wide, limit)
        verdict[broken] = weight
    unknown = np.isnan(measured)
    if doubt is not None:
        unknown = unknown | (doubt & (verdict != Verdict.FAIL))
    verdict[unknown] = Verdict.UNKNOWN
    if applies is not None:
        verdict[~applies] = DOES_NOT_APPLY
    return verdict, limit


#: A value this near its limit meets it: rounding, in mm or degrees, not bone.
LIMIT_SLACK = 1e-6


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """The verdict that weighs most; no verdict at all is `Verdict.UNKNOWN`, notes alone a pass.

    Parameters
    ----------
    verdicts : sequence of Verdict
        Any number of verdicts.

    Returns
    -------
    Verdict
    """
    heaviest = max(verdicts, default=Verdict.UNKNOWN)
    return Verdict.PASS if heaviest is Verdict.NOTE else heaviest
