"""A reduction as text for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.files import TOLD
from trajplan.show._terminal.table import bullets, table
from trajplan.show._words.numbers import number
from trajplan.show._words.trust import trust_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trajplan.files import DisplacementRecord, FragmentRecord, MovedRecord, ReductionFile

__all__ = [
    "DISPLACED",
    "KEY_OF_DISPLACED",
    "PAIRED",
    "displaced_rows",
    "joint_rows",
    "paired_rows",
    "reduction_text",
]

#: Heads of the table of displacement, of that of pairs, and of that of joints.
DISPLACED = ("fragment", "moved", "across", "short", "angulation", "front", "side", "turn", "by")
PAIRED = ("fragments", "contact", "gap mean", "gap 90 %", "step mean", "step most", "overlap")
JOINED = ("joint", "fragments", "when", "gap mean", "gap most", "step mean", "step most")
#: What the heads mean.
KEY_OF_DISPLACED = (
    "How each fragment lies in the image, against the fixed one: mm and degrees. Short: along the "
    "shaft, negative where it is pulled apart. Front, side: the angulation in these views, and the "
    "side that the far end leans to. Turn: about the shaft, positive clockwise seen from the fixed "
    "fragment. By: found by the program, or moved by hand. '?': cannot be told."
)
PAIR_KEY = "How they fit once moved: mm, and mm³ of overlap. Contact: share of the broken surface."


def reduction_text(record: ReductionFile) -> str:
    """A reduction for a person at a terminal.

    Parameters
    ----------
    record : ReductionFile
        The reduction.

    Returns
    -------
    str
    """
    sure = trust_words(record.findings, trusted=record.trusted)
    findings = sorted(
        (f for f in record.findings if f.verdict != "pass"), key=lambda f: TOLD.index(f.verdict)
    )
    parts = [
        f"{record.title or record.case.name}: reduction {sure}; {record.verdict.upper()}",
        table(DISPLACED, displaced_rows(record.fragments)),
        bullets([KEY_OF_DISPLACED]),
        table(PAIRED, paired_rows(record)),
        bullets([PAIR_KEY]),
        table(JOINED, joint_rows(record)) if record.joints else "",
        bullets(f"{f.verdict.upper()} {f.why} [{f.rule}]" for f in findings),
        bullets(record.cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def displaced_rows(fragments: Sequence[FragmentRecord | MovedRecord]) -> Iterator[tuple[str, ...]]:
    """Rows of the table of displacement."""
    for one in fragments:
        lying = one.displacement
        if lying is None:
            yield (one.name, "fixed", *["-"] * (len(DISPLACED) - 2))
        else:
            yield (one.name, *_lying(lying), one.origin)


def _lying(lying: DisplacementRecord) -> tuple[str, ...]:
    return (
        f"{lying.shift:.1f} mm, {lying.rotation:.1f}°",
        number(lying.across),
        number(lying.shortening),
        number(lying.angulation),
        _leaning(lying.front, lying.front_to),
        _leaning(lying.side, lying.side_to),
        number(lying.turn),
    )


def paired_rows(record: ReductionFile) -> Iterator[tuple[str, ...]]:
    """Rows of the table of pairs."""
    for fit in record.pairs:
        yield (
            " + ".join(fit.fragments),
            "?" if fit.contact is None else f"{100 * fit.contact:.0f} %",
            number(fit.gap_mean),
            number(fit.gap_90),
            number(fit.step_mean),
            number(fit.step_largest),
            "?" if fit.overlap is None else f"{fit.overlap:.0f}",
        )


def joint_rows(record: ReductionFile) -> Iterator[tuple[str, ...]]:
    """Rows of the table of joint surfaces."""
    for fit in record.joints:
        numbers = (fit.gap_mean, fit.gap_largest, fit.step_mean, fit.step_largest)
        yield (fit.name, " + ".join(fit.fragments), fit.when, *map(number, numbers))


def _leaning(angle: float | None, to: str) -> str:
    return "?" if angle is None else f"{angle:.1f} to {to}"
