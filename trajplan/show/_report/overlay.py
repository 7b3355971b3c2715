"""What is written over a picture: names, scale bar and orientation cross, none over another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import WORDS
from trajplan.show._words.cross import Box, lay_cross
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trajplan.arrays import Floats, Vec3s
    from trajplan.files import PlanFile
    from trajplan.show._items.item import Item
    from trajplan.show._picture.camera import View
    from trajplan.show._words.cross import Cross

__all__ = ["Mark", "PlacedCross", "bar_box", "cross_of", "marks_of", "words_at"]

#: Pixels: how far a name stands from its head, and any word from the picture's edge.
STAND_OFF, EDGE = 22, 12.0
#: Width of a letter over its size, about right for bold sans-serif faces.
LETTER_WIDTH = 0.62
#: Letters of the cross over those of the names; pixels, arms of the cross.
SMALLER, ARM = 0.86, 60.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A name over a picture; pixels from its upper left corner."""

    text: str
    x: float  # of its middle
    y: float
    lead: tuple[float, float] | None  # what it names, where it had to stand away from it
    box: Box


@dataclass(frozen=True, slots=True)
class PlacedCross:
    """Orientation cross in a picture; pixels from its upper left corner."""

    x: float  # of its middle
    y: float
    letter: float  # pixels, size of its letters
    cross: Cross  # y upwards
    box: Box  # of everything, y downwards


def text_width(text: str, letter: float) -> float:
    """Width of a word.

    Parameters
    ----------
    text : str
        The word.
    letter : float, pixels
        Size of its letters.

    Returns
    -------
    float, pixels
    """
    return LETTER_WIDTH * letter * len(text)


def bar_box(bar: float, height: int, letter: float) -> Box:
    """Place of the scale bar and of its length.

    Parameters
    ----------
    bar : float, pixels
        Its length.
    height : int, pixels
        Of the picture.
    letter : float, pixels
        Size of the letters.

    Returns
    -------
    Box
    """
    half = max(bar / 2.0, text_width("200 mm", letter) / 2.0)
    middle = 24.0 + bar / 2.0
    return Box(min(24.0, middle - half), height - 46.0 - letter, middle + half, float(height))


def cross_of(view: View, plan: PlanFile, size: tuple[int, int], letter: float) -> PlacedCross:
    """Lay out the orientation cross at the lower right of a picture.

    Parameters
    ----------
    view : View
        The view.
    plan : PlanFile
        Names the frame, the side and the ends of the bone.
    size : (int, int), pixels
        Of the picture.
    letter : float, pixels
        Size of the names in the picture.

    Returns
    -------
    PlacedCross
    """
    letter = SMALLER * letter
    axes = np.stack([view.right, view.up, view.toward])
    told = arms(plan.frame, plan.bearings)
    cross = lay_cross(told, axes, ARM, letter, lambda text: text_width(text, letter))
    x, y = size[0] - EDGE - cross.box.right, size[1] - EDGE + cross.box.low
    box = Box(x + cross.box.left, y - cross.box.high, float(size[0]), float(size[1]))
    return PlacedCross(x, y, letter, cross, box)


def marks_of(
    items: Sequence[Item],
    places: Sequence[Vec3s],
    size: tuple[int, int],
    letter: float,
    taken: Sequence[Box],
    prefix: str = "",
) -> Iterator[Mark]:
    """Name what has a name in the picture, away from its shank and clear of everything written.

    Parameters
    ----------
    items : sequence of Item
        What is drawn; what has a word counts, screws and landmarks before holes of plates.
    places : sequence of (2, 2) float arrays, pixels
        Of each item with a word: where it lies, and what it points away from.
    size : (int, int), pixels
        Of the picture.
    letter : float, pixels
        Size of the letters.
    taken : sequence of Box
        What is written already.
    prefix : str
        Left out of the names: the plate's, where there is but one.

    Yields
    ------
    Mark
        None for what lies beside the picture, or finds no free place in it.
    """
    used = list(taken)
    named = [item for item in items if item.role in WORDS]
    order = sorted(range(len(named)), key=lambda i: named[i].role == "number")
    for i in order:
        head, tip = places[i]
        if not (0 < head[0] < size[0] and 0 < head[1] < size[1]):
            continue
        text = named[i].label.split("  ")[0].removeprefix(prefix)
        half, out = text_width(text, letter) / 2.0, _outward(head, tip)
        wished = head + (STAND_OFF + abs(out) @ [half, letter / 2.0]) * out
        yield from _free(text, wished, head, size, letter, used)


def words_at(
    words: Sequence[tuple[str, Floats]],
    size: tuple[int, int],
    letter: float,
    taken: Sequence[Box],
) -> Iterator[Mark]:
    """Write words where they belong, or as near as there is room.

    Parameters
    ----------
    words : sequence of (str, (2,) float array)
        Words and the pixels of their middles.
    size : (int, int), pixels
        Of the picture.
    letter : float, pixels
        Size of the letters.
    taken : sequence of Box
        What is written already.

    Yields
    ------
    Mark
    """
    used = list(taken)
    for text, place in words:
        yield from _free(text, place, place, size, letter, used)


def _free(
    text: str, wished: Floats, of: Floats, size: tuple[int, int], letter: float, used: list[Box]
) -> Iterator[Mark]:
    """A word in the first free place that is tried, which it then takes up; none where none is."""
    half = text_width(text, letter) / 2.0
    for x, y in _tries(wished, half, size, letter):
        box = Box(x - half, y - letter / 2.0, x + half, y + letter / 2.0)
        if not any(box.meets(other) for other in used):
            used.append(box)
            far = np.hypot(x - wished[0], y - wished[1]) >= letter / 2.0
            yield Mark(text, x, y, (float(of[0]), float(of[1])) if far else None, box)
            return


def _tries(
    wished: Floats, half: float, size: tuple[int, int], letter: float
) -> Iterator[tuple[float, float]]:
    """Places for a name: the wished one, then ever further up and down, then beside."""
    wide, high = size
    x = min(max(float(wished[0]), half + EDGE), wide - half - EDGE)
    for aside in (0.0, 2.2 * half, -2.2 * half):
        at = min(max(x + aside, half + EDGE), wide - half - EDGE)
        for step in np.arange(0.0, high, letter / 2.0):
            for y in {float(wished[1] + step), float(wished[1] - step)}:
                if letter / 2.0 + EDGE <= y <= high - letter / 2.0 - EDGE:
                    yield at, y


def _outward(head: Floats, tip: Floats) -> Floats:
    """From tip to head in the picture; to the upper right where the screw is seen end-on."""
    away: Floats = head - tip
    length = float(np.linalg.norm(away))
    return away / length if length > STAND_OFF else np.array([0.7, -0.7])
