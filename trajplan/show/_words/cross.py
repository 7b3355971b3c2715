"""Layout of the orientation cross on a flat picture: arms, and words none over another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trajplan.arrays import Floats, Vec3, Vec3s

__all__ = ["Arm", "Box", "Cross", "lay_cross"]

#: Part of an arm that must lie in the picture for it to be drawn, and its word with it; past
#: that depth it points at the reader, or straight away.
FLAT, DEEP = 0.42, 0.9
#: Part of an arm to the right or left from which its word stands beside its end.
ASIDE = 0.5
#: Depth, as a share of an arm, past which it counts as going away.
LEAST_DEPTH = 0.05
#: Letters' heights: from an arm's end to its word; how far out a word is tried, and in what steps.
OFF, STEP, TRIES = 0.4, 0.5, 9


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle; y upwards."""

    left: float
    low: float
    right: float
    high: float

    def meets(self, other: Box) -> bool:
        """Whether two rectangles have a part in common.

        Parameters
        ----------
        other : Box
            The other one.

        Returns
        -------
        bool
        """
        across = self.left < other.right and other.left < self.right
        return across and self.low < other.high and other.low < self.high


@dataclass(frozen=True, slots=True)
class Arm:
    """An arm; places count from the middle of the cross, y upwards."""

    word: str
    x: float  # of its end
    y: float
    away: bool  # from the reader
    anchor: str  # which part of the word stands at its place: "start", "middle" or "end"
    word_x: float
    word_y: float
    box: Box  # of the word


@dataclass(frozen=True, slots=True)
class Cross:
    """A cross; places count from its middle, y upwards."""

    arms: tuple[Arm, ...]  # those that go away first, to be drawn below the others
    towards: str  # what points at the reader; empty: nothing does
    place: Box  # of that sentence
    box: Box  # of everything


def lay_cross(
    told: Sequence[tuple[str, Vec3]],
    axes: Vec3s,
    arm: float,
    letter: float,
    width: Callable[[str], float],
) -> Cross:
    """Lay an orientation cross out.

    Parameters
    ----------
    told : sequence of (str, (3,) float array)
        Words and unit vectors, as from `arms`.
    axes : (3, 3) float array
        Unit vectors of the picture: to the right, up, and towards the reader.
    arm : float
        Length of an arm that lies in the picture.
    letter : float
        Height of the letters, in the same unit.
    width : callable
        Width of a word in that unit.

    Returns
    -------
    Cross
        A word that finds no free place is left out with its arm, the shortest first.
    """
    parts = np.array([way for _, way in told]) @ axes.T
    size = np.hypot(parts[:, 0], parts[:, 1])
    made: list[Arm] = []
    for i in np.argsort(-size, kind="stable"):
        if size[i] > FLAT:
            made += _arm(told[i][0], parts[i], arm, letter, width, made)
    nearest = int(parts[:, 2].argmax())
    towards = f"towards you: {told[nearest][0]}" if parts[nearest, 2] > DEEP else ""
    right = max([arm, *(one.box.right for one in made)])
    low = min([-arm, *(one.box.low for one in made)])
    wide = width(towards) if towards else 0.0
    place = Box(right - wide, low - 1.5 * letter, right, low - 0.5 * letter)
    left = min([-arm, *(one.box.left for one in made), *([place.left] if towards else [])])
    high = max([arm, *(one.box.high for one in made)])
    order = sorted(made, key=lambda one: not one.away)
    whole = Box(left, place.low if towards else low, right, high)
    return Cross(tuple(order), towards, place, whole)


def _arm(
    word: str,
    part: Floats,
    arm: float,
    letter: float,
    width: Callable[[str], float],
    made: Sequence[Arm],
) -> list[Arm]:
    """An arm with its word in the first free place beyond its end; none where none is free."""
    size = float(np.hypot(part[0], part[1]))
    out, wide = part[:2] / size, width(word)
    anchor = "middle" if abs(out[0]) < ASIDE else "start" if out[0] > 0.0 else "end"
    back = {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
    first = arm * size + letter * (OFF + (0.5 if anchor == "middle" else 0.0))
    for step in range(TRIES):
        x, y = (float(v) for v in (first + STEP * letter * step) * out)
        box = Box(x - back, y - letter / 2.0, x - back + wide, y + letter / 2.0)
        if not any(box.meets(other.box) for other in made):
            away = bool(part[2] < -LEAST_DEPTH)
            end = arm * part
            return [Arm(word, float(end[0]), float(end[1]), away, anchor, x, y, box)]
    return []
