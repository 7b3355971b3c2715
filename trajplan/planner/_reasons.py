"""Why these screws: one sentence for each, in the numbers that the choice was made by."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.planner._score import WEIGHTS, bone_on_the_way, score_shares

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks import Limits, Ruling
    from trajplan.fracture import Zone
    from trajplan.trajectory import Trajectories

__all__ = ["reasons"]

#: What a screw may be better at than most, in words with its own number.
WORDS: dict[str, Callable[[Trajectories, int], str]] = {
    "square": lambda screws, i: f"stands squarer to the fracture ({screws.crossing.tilt[i]:.0f}°)",
    "purchase": lambda screws, i: f"holds by more thread ({screws.turns[i]:.1f} turns)",
    "fragments": lambda screws, i: (
        "has more bone of both fragments on its way ({:.0f} and {:.0f} mm)".format(
            *(float(part[i]) for part in bone_on_the_way(screws))
        )
    ),
    "beside": lambda _screws, _i: "keeps more bone beside it where it crosses the fracture",
    "edge": lambda _screws, _i: "leaves more bone between hole and fracture line",
    "entry": lambda screws, i: f"meets the bone squarer ({screws.entry_angle[i]:.0f}° off)",
    "clearance": lambda _screws, _i: "keeps farther from what must be kept clear",
    "seat": lambda screws, i: (
        f"seats more of its head ({100 * screws.seats.rim_contact[i]:.0f} % of a circle)"
    ),
}
#: A share must exceed the middle one of the field by so much, or it is no reason.
WORTH_SAYING = 0.05
#: Reasons that one sentence gives.
MOST = 2


def reasons(
    screws: Trajectories,
    rulings: Sequence[Ruling],
    limits: Limits,
    zones: Sequence[Zone],
    chosen: Ints,
    number: int,
    hold: Floats | None = None,
) -> tuple[str, ...]:
    """Say why each chosen screw was taken from the field.

    Parameters
    ----------
    screws : Trajectories
        The best candidates, from which the choice was made.
    rulings : sequence of Ruling
        Every rule's answer for them.
    limits : Limits
        Limits of the rules.
    zones : sequence of Zone
        Zones of the fracture.
    chosen : (k,) int array
        Rows of the chosen.
    number : int
        Lines that fail no rule.
    hold : (n,) float array, N, optional
        What each candidate holds in the bone that a CT shows.

    Returns
    -------
    tuple of str, length k
        What it is better at than the middle of the field, where it crosses the same zone, and
        why it is as long as it is.
    """
    shares = score_shares(screws, rulings, limits, zones)
    said = (_reason(screws, shares, int(row), len(chosen), number) for row in chosen)
    bone = ("" if hold is None else _bone(hold, int(row)) for row in chosen)
    return tuple(f"{why}{more}" for why, more in zip(said, bone, strict=True))


def _reason(
    screws: Trajectories, shares: dict[str, Floats], row: int, among: int, number: int
) -> str:
    field = screws.crossing.zone == screws.crossing.zone[row]
    gains = {name: WEIGHTS[name] * _lead(share, field, row) for name, share in shares.items()}
    best = sorted((n for n in gains if gains[n] > 0.0), key=lambda n: -gains[n])[:MOST]
    better = " and ".join(WORDS[name](screws, row) for name in best)
    if better:
        why = f"of {number} lines that fail no rule, it {better} than most"
    elif among > 1:
        why = f"of {number} lines that fail no rule, it goes best with the others"
    else:
        why = f"it ranks first of {number} lines that fail no rule"
    return f"{why}. {_size(screws, row)}"


def _bone(hold: Floats, row: int) -> str:
    """What the bone round its thread is worth, against that of the middle line."""
    middle = float(np.nanmedian(np.append(hold, np.nan)))
    if not np.isfinite([hold[row], middle]).all():
        return ""
    share = hold[row] / middle
    return f" In the bone of the CT it holds {share:.1f} times what the middle line does."


def _lead(share: Floats, field: Bools, row: int) -> float:
    """By how much a screw exceeds the middle of its field; 0 where that says nothing."""
    lead = float(share[row] - np.median(share[field]))
    return lead if lead > WORTH_SAYING else 0.0


def _size(screws: Trajectories, row: int) -> str:
    """Why a screw is as long as it is."""
    length = f"{screws.length[row]:g} mm"
    if screws.bicortical[row]:
        return (
            f"The gauge will read {screws.gauge[row]:.1f} mm: {length} leaves the far cortex by "
            f"{screws.proud[row]:.1f} mm."
        )
    if screws.tip[row] <= screws.ahead[row]:  # NaN, no joint ahead: False
        return (
            f"It runs towards a joint: {length} is the longest that keeps clear of it with room "
            f"for hands, and its thread holds by {screws.turns[row]:.1f} turns."
        )
    return (
        f"{length} is the shortest whose thread lies past the fracture and holds by "
        f"{screws.turns[row]:.1f} turns."
    )
