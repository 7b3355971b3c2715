"""Where to look from: across the screws, down the drill, square to the cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.errors import OutputError
from trajplan.show._picture.camera import View, side_view
from trajplan.show._sections.section import section_frame
from trajplan.show._window.edit_scene import cut_frame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.show._items.item import Item
    from trajplan.show._window.session import Session

__all__ = ["sight_view"]

#: Half the height of a picture down the drill or square to a cut: half the screw's reach
#: through the bone and this, mm.
ROOM = 16.0


def sight_view(session: Session, items: Sequence[Item], aspect: float) -> View | None:
    """View that a session asks for.

    Parameters
    ----------
    session : Session
        The session.
    items : sequence of Item
        What is drawn.
    aspect : float
        Width of the picture over its height.

    Returns
    -------
    View or None
        None where there is nothing to look at, or the axis misses the bone.
    """
    sight = session.looking.sight
    if sight == "side":
        try:
            return side_view([item for item in items if item.role not in ASIDE], aspect)
        except OutputError:
            return None
    screw, ends = session.screw, session.ends
    if screw is None or screw.entry is None or ends is None:
        return None
    middle = (ends[0] + ends[1]) / 2.0
    half = float(np.linalg.norm(ends[1] - ends[0])) / 2.0 + ROOM
    frame = cut_frame(session)
    if sight == "down" or frame is None:
        frame = section_frame(session.setup, screw, 0.0)
        return View(middle, -frame.along, frame.up, half, half)
    return View(middle, frame.plane.normal, frame.up, half / min(aspect, 1.0), half)


#: Roles that no view needs to make room for.
ASIDE = frozenset({"label", "number", "grip", "distance", "section", "edge"})
