"""The key of colours of a picture."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import COLOURS, KEY
from trajplan.show._picture.draw import INK
from trajplan.show._picture.flat import flat_camera
from trajplan.show._picture.labels import fitted, write

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pyvista as pv

    from trajplan.show._items.item import Item

__all__ = ["NAME", "entries", "legend"]

#: Pixels that a column takes up at the least.
COLUMN = 145.0
#: Pixels: size of the names.
NAME = 14
#: Pixels of a row where there is room.
ROW = 27.0
#: Letters of a name that have room in a column.
LETTERS = 14
MESH_ENDINGS = (".stl", ".obj", ".ply")


def entries(items: Sequence[Item]) -> list[tuple[str, str]]:
    """Colours of a picture with what they mean.

    Parameters
    ----------
    items : sequence of Item
        What is drawn.

    Returns
    -------
    list of (colour, text)
        In the order of the key; fragments of a bone one by one, by their names.
    """
    found: list[tuple[str, str]] = []
    for role in KEY:
        mine = {item.colour: item.name for item in items if item.role == role}
        if role == "bone" and len(mine) > 1:
            found += [(colour, _short(name)) for colour, name in mine.items()]
        elif mine:
            found.append((COLOURS[role], KEY[role]))
    return found


def _short(name: str) -> str:
    """A fragment's name as it fits in a column; the ending of a mesh says nothing there."""
    path = PurePath(name)
    return fitted(path.stem if path.suffix.lower() in MESH_ENDINGS else name, LETTERS)


def legend(
    plotter: pv.Plotter,
    told: Iterable[tuple[str, str]],
    size: tuple[float, float],
    below: float = 0.0,
) -> list[pv.Label]:
    """Draw swatches with their names in the active pane.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    told : iterable of (colour, text)
        As from `entries`.
    size : (float, float), pixels
        Width and height of the pane as it is laid out.
    below : float, pixels
        Height kept free at its foot.

    Returns
    -------
    list of pyvista.Label
        The names.
    """
    import pyvista as pv

    width, height = size
    pairs, names = list(told), []
    columns = max(1, int(width // COLUMN))
    free = height - below
    rows = max(int(free // ROW), -(-len(pairs) // columns))
    for number, (colour, text) in enumerate(pairs):
        row, column = divmod(number, columns)
        centre = np.array(
            [24 + column * width / columns, below + free * (1 - (row + 0.5) / rows), 0.0]
        )
        swatch = pv.Plane(center=centre, i_size=18, j_size=14)
        plotter.add_mesh(swatch, color=colour, lighting=False)
        plotter.add_mesh(swatch.extract_feature_edges(), color=INK, line_width=1.0, lighting=False)
        at = centre + np.array([16.0, 0.0, 0.0])
        names.append(write(plotter, at, text, size=NAME, side="left"))
    flat_camera(plotter, size)
    return names
