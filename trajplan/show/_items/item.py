"""One thing to draw: plain arrays, a role, a colour and a label."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import COLOURS, OPACITY

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.show._items.palette import Role
    from trajplan.show._items.solids import Solid

__all__ = ["Item", "line", "solid_item"]


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """Something to draw; without faces its points are a line, or the place of a label."""

    name: str  # "screw 1 head"
    role: Role
    points: Vec3s  # (v, 3) mm
    faces: Ints | None  # (f, 3) rows of `points`; None: a line
    colour: str  # "#rrggbb"
    opacity: float
    label: str = ""  # text to write at the first point
    values: Floats | None = None  # (f,) MPa on each face, in place of the colour


def solid_item(name: str, role: Role, solid: Solid) -> Item:
    """Make an item of triangles in the colour of its role.

    Parameters
    ----------
    name : str
        Name of the item.
    role : Role
        What it is.
    solid : Solid
        Vertices (v, 3) in mm and faces (f, 3).

    Returns
    -------
    Item
    """
    return Item(name, role, solid[0], solid[1], COLOURS[role], OPACITY.get(role, 1.0))


def line(name: str, role: Role, points: ArrayLike, label: str = "") -> Item:
    """Make an item of a line, or of one labelled point.

    Parameters
    ----------
    name : str
        Name of the item.
    role : Role
        What it is.
    points : array_like, (v, 3), mm
        Points in order.
    label : str
        Text to write at the first point.

    Returns
    -------
    Item
    """
    place = np.atleast_2d(np.asarray(points, dtype=np.float64))
    return Item(name, role, place, None, COLOURS[role], 1.0, label)
