"""When a reduction is sure: limits of every measure, and the doubts that they raise.

Measured on simulated fractures with known truth (`scripts/bench_reduce.py --tune`, seeds from 1000
on), other ones than those that the bench counts. Where the answer was right,
contact was 0.45 or more, gap 0.43 mm or less, step 0.43 mm, overlap 15 mm³, the next kind at
0.47 of the score, and a sector left out moved it by 0.44 mm and 6.7 degrees at the most; where it
was wrong, the step was 1.5 mm or more, the overlap 164 mm³, and a sector left out moved it by
9 degrees. The cases are few (20), so the limits lie nearer to the right answers than to the wrong.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.reduction._types import PairFit

__all__ = ["LEAST_COVERED", "LIMITS", "doubts_of", "line_doubts", "turn_is_known"]

#: Largest (of contact: least) value of each measure of a pair that still is sure.
LIMITS = {
    "contact": 0.35,  # share of the break
    "gap_mean": 0.60,  # mm
    "step_mean": 0.75,  # mm
    "overlap": 60.0,  # mm³
    # share of a fragment's surface; where pieces belong their edges lie in one another, no more
    "inside": 0.5,
    "rival": 0.75,
    "steady_shift": 0.90,  # mm
    "steady_turn": 6.0,  # degrees
    "agree_shift": 2.5,  # mm
    "agree_turn": 12.0,  # degrees
}
#: Least share of a fragment's fracture line beyond which the outer wall goes on. Measured where
#: all belongs, seeds 1000 to 1003: 39 fractures of femur, tibia and humerus 0.70 and more, with
#: the wedge taken away (12) 0.50 and less; 26 of radius and fibula 0.62, then 0.72 and more,
#: without the wedge (8) 0.64 and less; the demonstration's shaft without its wedge 0.60 to 0.66
#: at slopes of 0.3 to 2.5.
LEAST_COVERED = 0.70
#: degrees: spread of the turn about the shaft up to which the turn is known.
MOST_TURN_SPREAD = 2.0


#: Measures that raise one doubt, what is said where one is past its limit, and where one is not
#: known.
_SAID = (
    (
        ("contact",),
        "{pair} touch on {contact:.0%} of the broken surface only.",
        "How much of the broken surface of {pair} touches cannot be told.",
    ),
    (
        ("gap_mean",),
        "{pair} lie {gap_mean:.1f} mm apart on average.",
        "How far apart {pair} lie cannot be told.",
    ),
    (
        ("step_mean",),
        "The outer wall steps by {step_mean:.1f} mm between {pair}.",
        "The step of the outer wall between {pair} cannot be told.",
    ),
    (
        ("overlap",),
        "{overlap:.0f} mm³ of {pair} lie in one another.",
        "How far {pair} lie in one another cannot be told.",
    ),
    (
        ("rival",),
        "{pair} fit nearly as well in another way.",
        "Other ways to put {pair} together were not compared.",
    ),
    (
        ("steady_shift", "steady_turn"),
        (
            "The fit of {pair} rests on one side of the break: without it the answer moves by "
            "{steady_shift:.1f} mm and {steady_turn:.0f} degrees."
        ),
        "How firmly the break holds {pair} cannot be told.",
    ),
    (
        ("agree_shift", "agree_turn"),
        (
            "Broken surface and outer wall of {pair} disagree by {agree_shift:.1f} mm and "
            "{agree_turn:.0f} degrees."
        ),
        "Whether broken surface and outer wall of {pair} agree cannot be told.",
    ),
)


def turn_is_known(fit: PairFit) -> bool:
    """Whether the turn about the shaft is settled by the fragments themselves."""
    return (
        fit.slides.turn <= MOST_TURN_SPREAD
        and fit.steady_turn <= LIMITS["steady_turn"]
        and fit.rival <= LIMITS["rival"]
    )


def doubts_of(fit: PairFit, names: Sequence[str]) -> list[str]:
    """What speaks against a pair's fit, one sentence each."""
    pair = f"{names[fit.first]} and {names[fit.second]}"
    said = []
    for measures, over, untold in _SAID:
        values = {name: float(getattr(fit, name)) for name in measures}
        if any(map(math.isnan, values.values())):
            said.append(untold.format(pair=pair))
        elif any(_beyond(name, value) for name, value in values.items()):
            said.append(over.format(pair=pair, **values))
    if not (fit.turn_known or fit.slides.turn <= MOST_TURN_SPREAD):
        said.append(
            f"Nothing settles how {pair} are turned about the shaft: name points that belong "
            "together, or give a template."
        )
    return said


def _beyond(name: str, value: float) -> bool:
    return value < LIMITS[name] if name == "contact" else value > LIMITS[name]


def line_doubts(covered: Sequence[float], names: Sequence[str]) -> list[str]:
    """Fragments whose fracture line goes on in no other: a piece is missing, or misplaced."""
    return [
        f"Beyond {1.0 - share:.0%} of the fracture line of {name} no bone goes on: a piece may be "
        "missing or out of place."
        for share, name in zip(covered, names, strict=True)
        if share < LEAST_COVERED
    ]
