"""Names in a picture: beside it, each with a line to what it names."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import WORDS
from trajplan.show._picture.camera import LABEL_SHARE, label_places, label_sides
from trajplan.show._picture.draw import INK, thin_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Floats, Vec3
    from trajplan.show._items.item import Item
    from trajplan.show._picture.camera import View

__all__ = ["fitted", "labels", "write"]

#: Size of names.
NAME = 18
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
    """Write each name at the edge next to its place, with a thin line to it.

    A label is led to its head, the number of a plate's hole to the hole.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    items : sequence of Item
        What is drawn; what has a word counts.
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
    named = [item for item in items if item.role in WORDS and _seen(view, item, aspect)]
    if not named:
        return
    anchors = np.stack([_place(item) for item in named])
    at_right = label_sides(named, view)
    places = label_places(view, anchors, at_right, aspect, share)
    for ends in np.stack([places, anchors], axis=1):
        thin_line(plotter, ends, INK, 2.0)
    for item, place, right in zip(named, places, at_right, strict=True):
        name, gap, size_of = item.label.partition("  ")
        text = f" {fitted(name.removeprefix(prefix) + gap + size_of, most)} "
        write(plotter, place, text, size=NAME, side="left" if right else "right")


def _place(item: Item) -> Vec3:
    """What a word names: the number of a hole stands over it, and ends on it."""
    place: Vec3 = item.points[-1] if item.role == "number" else item.points[0]
    return place


def _seen(view: View, item: Item, aspect: float) -> bool:
    """Whether what a word names lies in the picture."""
    across = np.abs((_place(item) - view.focus) @ np.stack([view.right, view.up], axis=1))
    return bool((across < view.half_height * np.array([aspect, 1.0])).all())


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


def write(plotter: pv.Plotter, place: Floats, text: str, *, size: int, side: str) -> pv.Label:
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

    Returns
    -------
    pyvista.Label
    """
    import pyvista as pv

    word = pv.Label(text, position=tuple(place), size=size)
    word.prop.color, word.prop.bold, word.prop.font_family = INK, True, "arial"
    word.prop.justification_horizontal = side
    word.prop.justification_vertical = "center"
    plotter.add_actor(word, reset_camera=False, render=False)
    return word
