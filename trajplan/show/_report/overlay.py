"""What is written over a picture: names, scale bar and orientation cross, none over another."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import WORDS
from trajplan.show._words.cross import Box, lay_cross
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trajplan.arrays import Bools, Floats, Vec3s
    from trajplan.files import PlanFile
    from trajplan.show._items.item import Item
    from trajplan.show._picture.camera import View
    from trajplan.show._words.cross import Cross

__all__ = ["Mark", "PlacedCross", "bar_box", "cross_of", "marks_of", "words_at"]

#: Pixels: how far a name stands from its head, and any word from the picture's edge.
STAND_OFF, EDGE = 22, 12.0
#: Heights of a letter: half of what a place without a head takes up, about a plate's empty hole;
#: from one place that is tried for a word to the next, across and down.
PLACE, ACROSS, DOWN = 0.5, 0.5, 0.25
#: Free places, the nearest first, that are compared; points of a line that are looked at.
NEAREST, POINTS = 1000, 30
#: Heights of a letter that stay free beside a word: some faces are wider than `LETTER_WIDTH`.
AIR = 0.5
#: What a fault of a place weighs against pixels further away: its line leads over another head or
#: hole, over a word, or crosses another line; the word lies on a line.
OVER_HEAD, OVER_WORD, CROSSES, ON_LINE = 4000.0, 2000.0, 1000.0, 2000.0
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
    lead: tuple[float, float, float, float] | None  # from its edge to what it names
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
    heads: Sequence[Box] = (),
    prefix: str = "",
) -> Iterator[Mark]:
    """Name what has a name in the picture, with a line to it, over no head and no hole.

    Parameters
    ----------
    items : sequence of Item
        What is drawn; what has a word counts, screws and landmarks before holes of plates.
    places : sequence of (2, 2) float arrays, pixels
        Of each item with a word: its ends as drawn. A name belongs to the first and points away
        from the second; the number of a hole belongs to the second, on the plate.
    size : (int, int), pixels
        Of the picture.
    letter : float, pixels
        Size of the letters.
    taken : sequence of Box
        What is written already.
    heads : sequence of Box
        Heads of screws.
    prefix : str
        Left out of the names: the plate's, where there is but one.

    Yields
    ------
    Mark
        None for what lies beside the picture, or finds no free place in it.
    """
    named = [item for item in items if item.role in WORDS]
    order = sorted(range(len(named)), key=lambda i: named[i].role == "number")
    shown = [i for i in order if _inside(_named_place(named[i], places[i]), size)]
    spots = [_spot(_named_place(named[i], places[i]), PLACE * letter) for i in shown]
    sheet = _Sheet(size, letter, list(taken), [*heads, *spots])
    for i in shown:
        text = named[i].label.split("  ")[0].removeprefix(prefix)
        half, out = text_width(text, letter) / 2.0, _outward(*places[i])
        head = _named_place(named[i], places[i])
        wished = head + (STAND_OFF + abs(out) @ [half, letter / 2.0]) * out
        yield from sheet.write(text, wished, head)


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
    sheet = _Sheet(size, letter, list(taken), [])
    for text, place in words:
        yield from sheet.write(text, place, place)


@dataclass(slots=True)
class _Sheet:
    """A picture while it is written on."""

    size: tuple[int, int]
    letter: float
    written: list[Box]
    heads: Sequence[Box]  # heads and holes, which no word may cover
    lines: list[Floats] = field(default_factory=list)  # (2, 2) each, from a word to its place

    def write(self, text: str, wished: Floats, of: Floats) -> Iterator[Mark]:
        """A word in the best free place, which it then takes up; none where none is free."""
        half = np.array([text_width(text, self.letter) + AIR * self.letter, self.letter]) / 2.0
        middle = self._free(wished, half)
        if not len(middle):
            return
        leads = _leads(middle, half, of)
        away = np.hypot(*(middle - wished).T)
        best = int((away + self._faults(middle, half, leads, of)).argmin())
        x, y = middle[best].tolist()
        box = Box(x - half[0], y - half[1], x + half[0], y + half[1])
        self.written.append(box)
        led = bool(np.ptp(leads[best], axis=0).any())
        if led:
            self.lines.append(leads[best])
        start, end = leads[best].tolist()
        yield Mark(text, x, y, (*start, *end) if led else None, box)

    def _free(self, wished: Floats, half: Floats) -> Floats:
        """Middles of places (n, 2) at which a word lies over nothing, the nearest first."""
        low, high = half + EDGE, np.array(self.size) - half - EDGE
        steps = np.array([ACROSS, DOWN]) * self.letter
        x, y = (np.arange(low[k], high[k], steps[k]) for k in (0, 1))
        grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        middle = np.vstack([np.clip(wished, low, high), grid])
        rows = _rows([*self.written, *self.heads])
        apart = np.abs(middle[:, None] - rows.mean(axis=1)) >= np.ptp(rows, axis=1) / 2.0 + half
        free = middle[apart.any(axis=2).all(axis=1)]
        nearest: Floats = free[np.argsort(np.hypot(*(free - wished).T), kind="stable")[:NEAREST]]
        return nearest

    def _faults(self, middle: Floats, half: Floats, leads: Floats, of: Floats) -> Floats:
        """What speaks against each place, as pixels."""
        heads, words = _rows(self.heads), _rows(self.written)
        near = self.letter / 4.0
        other = ((of < heads[:, 0] - near) | (of > heads[:, 1] + near)).any(axis=1)
        faults = OVER_HEAD * _meets(leads, heads[other]) + OVER_WORD * _meets(leads, words)
        for line in self.lines:
            faults += CROSSES * _crosses(leads, line)
            faults += ON_LINE * _under(line, middle, half)
        return faults


def _named_place(item: Item, ends: Vec3s) -> Floats:
    """Which of its ends a word belongs to: a hole's number stands over the plate."""
    place: Floats = ends[1] if item.role == "number" else ends[0]
    return place


def _inside(place: Floats, size: tuple[int, int]) -> bool:
    return bool(0 < place[0] < size[0] and 0 < place[1] < size[1])


def _spot(place: Floats, half: float) -> Box:
    x, y = place.tolist()
    return Box(x - half, y - half, x + half, y + half)


def _rows(boxes: Sequence[Box]) -> Floats:
    """Corners of boxes, (n, 2, 2): the low ones, the high ones."""
    return np.array([[[b.left, b.low], [b.right, b.high]] for b in boxes]).reshape(-1, 2, 2)


def _leads(middle: Floats, half: Floats, of: Floats) -> Floats:
    """Lines (n, 2, 2) from the edge of a word to what it names; no length where it lies there."""
    ends = np.broadcast_to(of, middle.shape)
    return np.stack([np.clip(of, middle - half, middle + half), ends], axis=1)


def _meets(lines: Floats, boxes: Floats) -> Bools:
    """Whether lines (n, 2, 2) lead over boxes (m, 2, 2), of points along them; (n,)."""
    along = np.linspace(0.0, 1.0, POINTS)[:, None]
    points = lines[:, None, 0] + along * (lines[:, 1] - lines[:, 0])[:, None]
    within = (points[:, :, None] > boxes[:, 0]) & (points[:, :, None] < boxes[:, 1])
    out: Bools = np.any(np.all(within, axis=3).reshape(len(lines), -1), axis=1)
    return out


def _under(line: Floats, middle: Floats, half: Floats) -> Bools:
    """Whether a line (2, 2) leads over words about their middles (n, 2); (n,)."""
    points = line[0] + np.linspace(0.0, 1.0, POINTS)[:, None] * (line[1] - line[0])
    out: Bools = (np.abs(points - middle[:, None]) < half).all(axis=2).any(axis=1)
    return out


def _crosses(lines: Floats, line: Floats) -> Bools:
    """Whether lines (n, 2, 2) cross one: each has its ends at either side of the other; (n,)."""
    apart = _side(lines[:, 0], line[None]) * _side(lines[:, 1], line[None]) < 0.0
    out: Bools = apart & (_side(line[0], lines) * _side(line[1], lines) < 0.0)
    return out


def _side(points: Floats, lines: Floats) -> Floats:
    """Twice the area of the triangle of a point and a line, signed by the side it lies on."""
    way, off = lines[:, 1] - lines[:, 0], points - lines[:, 0]
    area: Floats = way[:, 0] * off[:, 1] - way[:, 1] * off[:, 0]
    return area


def _outward(head: Floats, tip: Floats) -> Floats:
    """From tip to head in the picture; to the upper right where the screw is seen end-on."""
    away: Floats = head - tip
    length = float(np.linalg.norm(away))
    return away / length if length > STAND_OFF else np.array([0.7, -0.7])
