"""Names in a picture: beside it with a line to what they name, and numbers where they stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._picture.camera import LABEL_SHARE, label_places, label_sides
from trajplan.show._picture.draw import INK, thin_line
from trajplan.show._words.cross import Box

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Floats
    from trajplan.show._items.item import Item
    from trajplan.show._picture.camera import View

__all__ = ["fitted", "labels", "write"]

#: Size of names and of the numbers of holes, which stand closer.
NAME, NUMBER = 18, 16
#: Width and height of a letter over its size, as VTK draws the face (measured: 0.55 and 0.9).
WIDE, HIGH = 0.58, 1.0
#: Share of half the picture's height by which numbers stand over their places, and are moved on
#: where another word stands; how often that is tried.
LIFT, STEP, TRIES = 0.008, 0.03, 9
#: Parts that a number would seem to belong to.
HEADS = ("head", "washer")
#: Letters that fit into the column beside the picture.
LETTERS_FIT = 22


def labels(
    plotter: pv.Plotter,
    items: Sequence[Item],
    view: View,
    size: tuple[float, float],
    *,
    share: float = LABEL_SHARE,
    most: int = LETTERS_FIT,
    prefix: str = "",
) -> None:
    """Write each label at the edge next to its head, with a thin line to the head.

    The number of a plate's hole is written where it stands, or a little higher where another
    word stands there already.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    items : sequence of Item
        What is drawn; those of role ``label`` and ``number`` count.
    view : View
        The view.
    size : (float, float), pixels
        Width and height of the pane.
    share : float
        Of the width, of the column at either edge.
    most : int
        Letters that it has room for.
    prefix : str
        Left out of the names: the plate's, where there is but one.
    """
    aspect = size[0] / size[1]
    named = [item for item in items if item.role == "label" and _seen(view, item, aspect)]
    taken: list[Box] = []
    if named:
        anchors = np.vstack([item.points[:1] for item in named])
        at_right = label_sides(named, view)
        places = label_places(view, anchors, at_right, aspect, share)
        for ends in np.stack([places, anchors], axis=1):
            thin_line(plotter, ends, INK, 2.0)
        for item, place, right in zip(named, places, at_right, strict=True):
            name, gap, size_of = item.label.partition("  ")
            text = f" {fitted(name.removeprefix(prefix) + gap + size_of, most)} "
            side = "left" if right else "right"  # as the text is justified
            write(plotter, place, text, size=NAME, side=side)
            taken.append(_box(view, place, text, NAME, size[1], side))
    heads = [_outline(view, item, size[1]) for item in items if item.role in HEADS]
    for item in items:
        if item.role == "number" and _seen(view, item, aspect):
            _number(plotter, item, view, size[1], taken, heads)


def _number(
    plotter: pv.Plotter,
    item: Item,
    view: View,
    height: float,
    taken: list[Box],
    heads: Sequence[Box],
) -> None:
    """Write a number over its place, clear of what is written; not at all where none is free.

    It is kept off the heads of screws too, for it would seem to name them; but where there is
    no place for it without, it stands over one.
    """
    for kept_off in ((*taken, *heads), tuple(taken)):
        for turn in range(TRIES):
            lift = (LIFT + STEP * turn) * view.half_height
            place = item.points[0] + lift * view.up + view.reach * view.toward
            box = _box(view, place, item.label, NUMBER, height, "center", above=True)
            if not any(box.meets(other) for other in kept_off):
                taken.append(box)
                write(plotter, place, item.label, size=NUMBER, side="center", above=True)
                return


def _outline(view: View, item: Item, height: float) -> Box:
    """What a part takes up, in pixels from the middle of the picture."""
    per_mm = height / (2.0 * view.half_height)
    across = (item.points - view.focus) @ np.stack([view.right, view.up], axis=1) * per_mm
    (left, low), (right, high) = across.min(axis=0).tolist(), across.max(axis=0).tolist()
    return Box(left, low, right, high)


def _seen(view: View, item: Item, aspect: float) -> bool:
    """Whether what a word names lies in the picture."""
    across = np.abs((item.points[0] - view.focus) @ np.stack([view.right, view.up], axis=1))
    return bool((across < view.half_height * np.array([aspect, 1.0])).all())


def _box(
    view: View,
    place: Floats,
    text: str,
    size: int,
    height: float,
    side: str,
    *,
    above: bool = False,
) -> Box:
    """What a word takes up, in pixels from the middle of the picture."""
    per_mm = height / (2.0 * view.half_height)
    x, y = (place - view.focus) @ np.stack([view.right, view.up], axis=1) * per_mm
    wide, high = WIDE * size * len(text), HIGH * size
    left = float(x) - {"left": 0.0, "center": wide / 2.0, "right": wide}[side]
    low = float(y) - (0.0 if above else high / 2.0)
    return Box(left, low, left + wide, low + high)


def fitted(label: str, most: int = LETTERS_FIT) -> str:
    """Shorten a label until it fits.

    Parameters
    ----------
    label : str
        Name and size, such as "screw 1  HB6.5 x 75 mm, 32 mm thread".
    most : int
        Letters that there is room for; by default beside the picture.

    Returns
    -------
    str
        Without what comes after a comma, else the name alone, cut off if need be.
    """
    for text in (label, label.partition(",")[0], label.partition("  ")[0]):
        if len(text) <= most:
            return text
    return f"{label.partition('  ')[0][: most - 1]}\N{HORIZONTAL ELLIPSIS}"


def write(
    plotter: pv.Plotter, place: Floats, text: str, *, size: int, side: str, above: bool = False
) -> pv.Label:
    """Write words at a place in space; they turn to the reader and are never left out.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    place : (3,) float array, mm
        Where they stand.
    text : str
        The words.
    size : int
        Of the letters.
    side : {"left", "center", "right"}
        Which part of them stands there.
    above : bool
        Whether they stand over the place, not level with it.

    Returns
    -------
    pyvista.Label
    """
    import pyvista as pv

    word = pv.Label(text, position=tuple(place), size=size)
    word.prop.color, word.prop.bold, word.prop.font_family = INK, True, "arial"
    word.prop.justification_horizontal = side
    word.prop.justification_vertical = "bottom" if above else "center"
    plotter.add_actor(word, reset_camera=False, render=False)
    return word
