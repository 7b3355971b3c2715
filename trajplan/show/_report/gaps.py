"""The gap that a reduction leaves on the broken surfaces, for the page of its plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.geometry import frames
from trajplan.reduction import Fragment, Pose, long_axis
from trajplan.show._items.palette import PRESSURE_MAP
from trajplan.show._picture.camera import framed
from trajplan.show._picture.vtk import quiet
from trajplan.show._reduction.face_on import BESIDE, add_gaps, face_on
from trajplan.show._reduction.gap import BONE, GAP_MOST, OVERLAP
from trajplan.show._report.pictures import ASPECT, blank, picture_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.show._items.item import Item
    from trajplan.show._report.pictures import Picture

__all__ = ["GapKey", "gap_picture"]

#: Colours that the key's band runs through.
STOPS = 9


@dataclass(frozen=True, slots=True)
class GapKey:
    """Key of the colours of a gap."""

    most: float  # mm, upper end of the band and above; the lower is 0
    band: tuple[str, ...]
    overlap: str
    bone: str

    @classmethod
    def made(cls) -> GapKey:
        """The key, which is the same for every picture."""
        from matplotlib import colormaps
        from matplotlib.colors import to_hex

        band = tuple(to_hex(colour) for colour in colormaps[PRESSURE_MAP](np.linspace(0, 1, STOPS)))
        return cls(GAP_MOST, band, OVERLAP, BONE)


def gap_picture(items: Sequence[Item]) -> Picture | None:
    """Draw the broken surfaces of a reduced bone face on, side by side, coloured by the gap.

    Parameters
    ----------
    items : sequence of Item
        The scene of the plan; its bones are the fragments, reduced.

    Returns
    -------
    Picture or None
        None where no two fragments face each other.
    """
    parts = [
        Fragment(item.name, item.points, item.faces)
        for item in items
        if item.role == "bone" and item.faces is not None
    ]
    still = [Pose.still()] * len(parts)
    axis = long_axis(parts, still, 0)
    up = np.array([0.0, 0.0, 1.0]) if axis is None else axis
    right = frames(up[None])[0, 0]
    toward = np.cross(right, up)
    seen = face_on(parts, still, toward, up, right)
    if not seen:
        return None
    with quiet():
        plotter = blank()
        for one in seen:
            add_gaps(plotter, one.corners, one.gaps)
        every = np.concatenate([one.corners.reshape(-1, 3) for one in seen])
        low = float((every @ up).min()) - BESIDE
        words = []
        for one in seen:
            across = one.corners.reshape(-1, 3) @ right
            middle = 0.5 * float(across.min() + across.max())
            words.append((one.name, middle * right + low * up))
        room = np.concatenate([every, np.array([(low - 3.0 * BESIDE) * up])])
        view = framed(room, room, toward, up, ASPECT, (0.02, 0.02))
        return picture_of(plotter, "gap on each broken surface, face on", view, words)
