"""A check of many lines as text for a terminal: counted, those that fail first."""

from __future__ import annotations

from collections import Counter
from itertools import chain
from typing import TYPE_CHECKING

from trajplan.files import worst_word
from trajplan.show._terminal.table import table
from trajplan.show._words.numbers import number

if TYPE_CHECKING:
    from trajplan.files import ScrewRecord

__all__ = ["LINES_WHOLE", "LineCount"]

#: Lines that are printed whole, each with its sentences: as many as may be one bone's screws.
LINES_WHOLE = 20
#: Verdicts of which a decision or an answer is wanted, the gravest first; a note makes no line
#: worse than a pass.
OPEN = ("fail", "caution", "unknown")
VERDICTS = (*OPEN, "pass")


class LineCount:
    """Lines taken down one by one, for they may lie on the disk.

    Parameters
    ----------
    most : int or None
        Lines that are written out; None: all.
    """

    def __init__(self, most: int | None) -> None:
        self._most = most
        self._lines: Counter[str] = Counter()
        self._rules: dict[str, Counter[str]] = {}
        self._rows: dict[str, list[tuple[str, ...]]] = {verdict: [] for verdict in VERDICTS}

    def take(self, screw: ScrewRecord) -> None:
        """Count a line."""
        worst = worst_word(screw.findings)
        self._lines[worst] += 1
        for finding in screw.findings:
            if finding.verdict in OPEN:
                self._rules.setdefault(finding.rule, Counter())[finding.verdict] += 1
        rows = self._rows[worst]
        if self._most is None or len(rows) < self._most:
            rows.append(_row(screw, worst))

    def text(self) -> str:
        """Lines by verdict, rules by verdict, and the lines themselves, the gravest first."""
        total = self._lines.total()
        told = ", ".join(f"{self._lines[verdict]} {verdict}" for verdict in VERDICTS)
        parts = [f"{total} lines: {told}."]
        if self._rules:
            order = sorted(
                self._rules, key=lambda rule: (*(-self._rules[rule][word] for word in OPEN), rule)
            )
            rows = [(rule, *(str(self._rules[rule][word]) for word in OPEN)) for rule in order]
            parts.append("Lines by rule:\n" + table(("rule", *OPEN), rows))
        rows = list(chain(*self._rows.values()))[: self._most]
        head = ("id", "screw", "technique", "length", "gauge", "protrudes", "tilt", "worst", "by")
        parts.append("Lines, the gravest first:\n" + table(head, rows))
        if len(rows) < total:
            parts.append(f"... and {total - len(rows)} more: --all prints them.")
        return "\n\n".join(parts)


def _row(screw: ScrewRecord, worst: str) -> tuple[str, ...]:
    blind = screw.hold == "unicortical"
    return (
        screw.id,
        screw.kind,
        screw.technique,
        number(screw.length, 0),
        "-" if blind else number(screw.gauge),
        "-" if blind else number(screw.proud_tip),
        number(screw.tilt),
        worst,
        ", ".join(f.rule for f in screw.findings if f.verdict == worst and worst in OPEN),
    )
