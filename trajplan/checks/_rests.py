"""What each rule rests on, and its doubt where a hole of the surface lies there.

One mechanism for all rules: whatever a rule measures, a pass, a note or a caution that rests
on a place where the surface is open or contradicts itself becomes unknown. A fail stays.
"""

from __future__ import annotations

from dataclasses import replace
from enum import IntFlag
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of
from trajplan.checks._types import DOES_NOT_APPLY, Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.checks._types import Ruling
    from trajplan.trajectory import Corridors, Trajectories, WirePaths

__all__ = ["Rests", "doubts_of", "in_doubt", "in_doubt_of_pairs"]

#: Bone that begins or ends this near to a place, mm, is the bone at that place: far above the
#: rounding of depths, far below what a drill can tell.
TOUCH = 1e-6


class Rests(IntFlag):
    """Where the surface has to be whole for an answer to be vouched for."""

    NOTHING = 0  # on directions and on the case alone
    ENTRY = 1  # where depths count from, and where the head comes to rest
    EXIT = 2  # where the gauge hooks on, which settles the length
    FRACTURE = 4  # the bone where the fracture is crossed
    WAY = 8  # all bone from the entry to the exit and on


_PLACES = {
    Rests.ENTRY: "at the entry",
    Rests.FRACTURE: "where it crosses the fracture",
    Rests.EXIT: "at the exit",
    Rests.WAY: "on its way",
}
_ENDS = Rests.ENTRY | Rests.EXIT
_ALL = _ENDS | Rests.FRACTURE

#: What each rule rests on; a rule that is not named rests on the whole way.
_RESTS = {
    "meets_bone": Rests.NOTHING,
    "closes_gap": Rests.NOTHING,
    "tilt": Rests.NOTHING,
    "local_tilt": Rests.NOTHING,
    "approach": Rests.NOTHING,
    "parallel_to_joint": Rests.NOTHING,
    "drills_named": Rests.NOTHING,
    "bone_share": Rests.NOTHING,
    "wire_tilt": Rests.NOTHING,
    "entry_angle": Rests.ENTRY,
    "head_seat": Rests.ENTRY,
    "head_on_joint": Rests.ENTRY,
    "drill_access": Rests.ENTRY,
    "guide_way": Rests.ENTRY,
    "head_pressure": Rests.ENTRY,
    "head_support": Rests.ENTRY | Rests.FRACTURE,
    "crosses_fracture": _ALL,
    "thread_across": _ALL,
    "near_thread": _ALL,
    "purchase": _ALL,
    "holding": _ALL,
    "other_fragments": _ALL,
    "other_thread": _ALL,
    "other_tilt": _ALL,
    "exit_angle": Rests.EXIT,
    "tip_past": _ENDS,
    "tip_short": _ENDS,
    "fracture_edge": _ENDS,
    "along_shaft": _ENDS,
    # the length is chosen by the exit: with a wrong one the tip lies elsewhere
    "joint_clearance": _ENDS,
    "avoid_clearance": _ENDS,
    "plunge": _ENDS,
    "screw_gap": _ENDS,
    "screw_spacing": _ENDS,
}


def doubts_of(screws: Trajectories | WirePaths, seated: Bools | None = None) -> Ints | None:
    """Where the surface is open or contradicts itself along each screw or wire.

    Parameters
    ----------
    screws : Trajectories or WirePaths
        ``n`` screws or wires.
    seated : (n,) bool array, optional
        Whether the bone under the head is known; by default it is.

    Returns
    -------
    (n,) int array or None
        Values of `Rests`; None where there is no doubt anywhere, as a rule.
    """
    corridors = screws.corridors
    whole = bool(corridors.decided.all())
    if whole and (seated is None or seated.all()):
        return None
    places = (
        (Rests.ENTRY, corridors.line_entry),
        (Rests.EXIT, corridors.line_exit),
        (Rests.FRACTURE, screws.crossing.lines),
    )
    doubt = np.where(corridors.decided, 0, int(Rests.WAY))
    for place, depth in places:
        doubt |= np.where(_open_at(corridors, depth), int(place), 0)
    doubt |= np.where(corridors.unsure_gap, int(Rests.EXIT), 0)
    if seated is not None:
        doubt |= np.where(seated, 0, int(Rests.ENTRY))
    return np.where(corridors.hit, doubt, 0)


def _open_at(corridors: Corridors, depth: Floats) -> Bools:
    """Whether bone that is not known reaches a depth of some line of each bundle."""
    unsure = np.flatnonzero(~corridors.solid.known)
    line = rows_of(corridors.solid.offsets)[unsure]
    at = depth.ravel()[line]
    reaches = (corridors.solid.start[unsure] <= at + TOUCH) & (
        corridors.solid.end[unsure] >= at - TOUCH
    )
    found = np.zeros(len(corridors.hit), dtype=np.bool_)
    found[line[reaches] // (corridors.ring + 1)] = True
    return found


def in_doubt(rulings: Sequence[Ruling], doubt: Ints | None) -> list[Ruling]:
    """Take the answers away that rest on a place in doubt.

    Parameters
    ----------
    rulings : sequence of Ruling
        Answers for ``n`` subjects.
    doubt : (n,) int array or None
        As from `doubts_of`.

    Returns
    -------
    list of Ruling
        The same where nothing is in doubt.
    """
    if doubt is None or not doubt.any():
        return list(rulings)
    return [_without(ruling, doubt) for ruling in rulings]


def in_doubt_of_pairs(
    rulings: Sequence[Ruling], doubt: Ints | None, first: Ints, second: Ints
) -> list[Ruling]:
    """Take the answers on pairs away that rest on a place in doubt of either screw.

    Parameters
    ----------
    rulings : sequence of Ruling
        Answers for ``p`` pairs.
    doubt : (n,) int array or None
        Of the screws, as from `doubts_of`.
    first, second : (p,) int arrays
        Rows of the screws.

    Returns
    -------
    list of Ruling
    """
    return in_doubt(rulings, None if doubt is None else doubt[first] | doubt[second])


def _without(ruling: Ruling, doubt: Ints) -> Ruling:
    rests = int(_RESTS.get(ruling.rule, Rests.WAY))
    stands = (ruling.verdict == Verdict.FAIL) | (ruling.verdict == Verdict.UNKNOWN)
    lost = (doubt & rests > 0) & (ruling.verdict != DOES_NOT_APPLY) & ~stands
    if not lost.any():
        return ruling
    before = ruling.doubted or (lambda _: "")
    return replace(
        ruling,
        verdict=np.where(lost, int(Verdict.UNKNOWN), ruling.verdict).astype(np.int8),
        measured=np.where(lost, np.nan, ruling.measured),
        doubted=lambda i: _sentence(Rests(int(doubt[i]) & rests)) if lost[i] else before(i),
    )


def _sentence(places: Rests) -> str:
    """Say where the surface is open."""
    named = [words for place, words in _PLACES.items() if place in places]
    return (
        "This cannot be told: the surface of the bone is open, or contradicts itself, "
        f"{' and '.join(named)}."
    )
