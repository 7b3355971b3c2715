"""The order in which a plate is fixed, step by step. No geometry: words and holes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Ints
    from trajplan.planner._plate_wish import Work
    from trajplan.plate import FirstFragment, Use

__all__ = ["PlateStep", "steps_of"]


@dataclass(frozen=True, slots=True)
class PlateStep:
    """One step of fixing a plate."""

    says: str  # one or two sentences
    holes: tuple[int, ...] = ()  # from 0
    screws: tuple[str, ...] = ()  # ids


def steps_of(
    work: Work,
    uses: Sequence[Use],
    ids: Sequence[str | None],
    side: Ints,
    shaft: int,
    along: Floats,
    first: FirstFragment,
    names: tuple[str, str],
    beside: Sequence[str],
) -> tuple[PlateStep, ...]:
    """Say in which order a plate and its screws are put in.

    Parameters
    ----------
    work : str
        What the plate does.
    uses, ids : sequences, length h
        Use of each hole, and the id of the screw in it.
    side, along : (h,) arrays
        Side of the fracture that each hole lies on, and mm along the plate to it.
    shaft : int
        The side, -1 or 1, that the shaft lies on.
    first : FirstFragment
        The fragment that is fixed first.
    names : tuple of two str
        Fragments at the plate's first end and at its last.
    beside : sequence of str
        Ids of the lag screws beside the plate.

    Returns
    -------
    tuple of PlateStep

    References
    ----------
    .. [1] AO Foundation, online surgery reference, basic technique, compression plates; malleoli,
       protecting and antiglide plates.
    .. [2] Wheeless' Textbook of Orthopaedics, theory of compression plates; T plates.
    """
    made = _Steps(uses, ids, side, np.abs(along), names)
    if work == "compress":
        return made.compress(first, beside)
    if work == "buttress":
        return made.buttress(shaft, beside)
    return made.protect(beside)


class _Steps:
    """What is known of the holes while steps are written."""

    def __init__(
        self,
        uses: Sequence[Use],
        ids: Sequence[str | None],
        side: Ints,
        away: Floats,
        names: tuple[str, str],
    ) -> None:
        self.uses, self.ids, self.side, self.away, self.names = uses, ids, side, away, names

    def of(self, use: Use, side: int | None = None) -> list[int]:
        """Holes of a use, on one side or on both, from the fracture outwards."""
        rows = [
            h
            for h in range(len(self.uses))
            if self.uses[h] == use and (side is None or self.side[h] == side)
        ]
        return sorted(rows, key=lambda h: (self.away[h], h))

    def step(self, says: str, holes: Sequence[int] = ()) -> PlateStep:
        """A step with the ids of its holes' screws."""
        ids = tuple(name for h in holes if (name := self.ids[h]) is not None)
        return PlateStep(says, tuple(holes), ids)

    def lags(self, beside: Sequence[str], says: str) -> list[PlateStep]:
        """A step for the lag screws beside the plate, if there are any."""
        if not beside:
            return []
        return [PlateStep(says.format(screws=_and(beside)), (), tuple(beside))]

    def compress(self, first: FirstFragment, beside: Sequence[str]) -> tuple[PlateStep, ...]:
        low_first = first.name is None or first.name == self.names[0]
        one, other = self.names if low_first else self.names[::-1]
        near = self.of("neutral", -1 if low_first else 1)
        push = self.of("eccentric")
        steps = []
        if near:
            steps.append(self.step(
                f"Fix the plate to {one} by a neutral screw in hole {near[0] + 1}. {first.why}",
                near[:1],
            ))  # fmt: skip
        steps.append(PlateStep(f"Hold the reduction with a clamp on {other}; look at it in two "
                               "planes before the next screw."))  # fmt: skip
        for number, hole in enumerate(push):
            again = (
                ""
                if number == 0
                else f" Loosen the screw of hole {push[number - 1] + 1} by one or two turns, "
                f"tighten this one, then tighten that of hole {push[number - 1] + 1} again."
            )
            clamp = " Release the clamp, then tighten it: the plate must be free to move."
            steps.append(self.step(
                f"Drill hole {hole + 1} eccentrically, at its end away from the fracture, and put "
                f"the screw in.{again or clamp}",
                [hole],
            ))  # fmt: skip
        lag = self.of("lag")
        if lag:
            steps.append(self.step(
                "The fracture being pressed, put in the lag screw through the plate, hole "
                f"{_and([str(h + 1) for h in lag])}.", lag,
            ))  # fmt: skip
        steps += self.lags(beside, "The fracture being pressed, put in {screws} beside the plate.")
        rest = sorted([*near[1:], *self.of("neutral", 1 if low_first else -1)],
                      key=lambda h: (self.away[h], h))  # fmt: skip
        return (*steps, *self.neutral(rest), _LOOK)

    def protect(self, beside: Sequence[str]) -> tuple[PlateStep, ...]:
        steps = self.lags(beside, "Reduce the fracture and press it with the lag screws first: "
                          "{screws}.")  # fmt: skip
        steps.append(_BEND)
        lag = self.of("lag")
        if lag:
            steps.append(self.step(
                "Lay the plate, and press the fracture with the lag screw through it, hole "
                f"{_and([str(h + 1) for h in lag])}, before any other screw is in.", lag,
            ))  # fmt: skip
        return (*steps, *self.neutral(self.of("neutral")), _LOOK)

    def buttress(self, shaft: int, beside: Sequence[str]) -> tuple[PlateStep, ...]:
        mine = self.of("neutral", shaft)
        steps = [_SPRING]
        if mine:
            steps.append(self.step(
                f"Put the first screw in hole {mine[0] + 1}, next to the fracture on the shaft's "
                "side: as it is tightened the plate pushes the fragment up.", mine[:1],
            ))  # fmt: skip
        steps += self.lags(beside, "With the fragment held up, put in {screws} beside the plate.")
        lag = self.of("lag")
        if lag:
            steps.append(self.step(
                "With the fragment held up, put in the lag screw through the plate, hole "
                f"{_and([str(h + 1) for h in lag])}.", lag,
            ))  # fmt: skip
        rest = [*mine[1:], *self.of("neutral", -shaft)]
        return (*steps, *self.neutral(rest), _LOOK)

    def neutral(self, holes: Sequence[int]) -> list[PlateStep]:
        """Neutral screws, one by one, in the order of the holes."""
        return [
            self.step(f"Hole {hole + 1}: neutral screw, in the middle of the hole.", [hole])
            for hole in holes
        ]


_BEND = PlateStep("Bend the plate to the bone by the bending sheet, so that it pulls nothing off.")
_SPRING = PlateStep(
    "Bend the plate by the bending sheet, its free end slightly less than the bone, so that it "
    "springs against the fragment."
)
_LOOK = PlateStep("Look at plate, screws and fracture in two planes; check every screw once more.")


def _and(parts: Sequence[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else list(parts))
