"""A plate to size: its solid, its name, and what each hole does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.item import line, solid_item
from trajplan.show._items.plate_solid import plate_solid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.show._items.item import Item
    from trajplan.show._items.plate_solid import BentPlate

__all__ = ["plate_items"]

#: mm that the number of a hole stands over the plate's top, clear of the head in it.
OVER = 9.0
#: Uses that are written beside a hole's number; a neutral screw is what needs no word.
SAID = ("eccentric", "lag", "empty")


def plate_items(name: str, bent: BentPlate, uses: Sequence[str]) -> list[Item]:
    """Draw a plate.

    Parameters
    ----------
    name : str
        Of the plate in its plan.
    bent : BentPlate
        The plate as it lies.
    uses : sequence of str, length h
        What each hole does.

    Returns
    -------
    list of Item
        The plate with its holes, its name, and the number of each hole, counted from the
        plate's first end.
    """
    thick = bent.plate.thickness
    top = bent.points[0] + thick * bent.frames[0, 2]
    ends = np.stack([top, top - thick * bent.frames[0, 2] * 2.0])
    places = bent.centres + (thick + OVER) * bent.hole_frames[:, 2]
    middles = bent.centres + thick * bent.hole_frames[:, 2]
    numbers = [
        line(
            f"{name} hole {number}",
            "number",
            [place, middle],
            f"{number} {use}" if use in SAID else f"{number}",
        )
        for number, (place, middle, use) in enumerate(zip(places, middles, uses, strict=True), 1)
    ]
    return [
        solid_item(f"{name} plate", "plate", plate_solid(bent)),
        line(f"{name} label", "label", ends, f"{name}  {bent.plate.kind}, {len(uses)} holes"),
        *numbers,
    ]
