"""A plate on paper: its profile with the twist taken out, and its outline with the holes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.plate_solid import corner_radius

if TYPE_CHECKING:
    from trajplan.arrays import Floats
    from trajplan.show._items.plate_solid import BentPlate

__all__ = ["outline", "unrolled"]

#: Steps of a quarter of a circle on paper.
QUARTER = 12


def unrolled(bent: BentPlate) -> Floats:
    """Underside of a plate seen from the side, as it is once bent and not yet twisted.

    Parameters
    ----------
    bent : BentPlate
        The plate as it lies.

    Returns
    -------
    (k, 2) float array, mm
        From the first end, which is the origin; the last end lies as high. Upwards is out of
        the bone.

    Notes
    -----
    From one point of the middle line to the next the frame turns by one rotation whose part
    across the plate is the flatwise bend of that link (`trajplan.plate.bent`).
    """
    from scipy.spatial.transform import Rotation

    here, ahead = bent.frames[:-1], bent.frames[1:]
    turn = Rotation.from_matrix(here @ ahead.transpose(0, 2, 1)).as_rotvec()
    sunk = np.concatenate([[0.0], np.cumsum(turn[:, 1])])
    heading = -(sunk[:-1] + turn[:, 1] / 2.0)
    steps = np.diff(bent.nodes)[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=1)
    line = np.vstack([np.zeros(2), np.cumsum(steps, axis=0)])
    lean = np.arctan2(line[-1, 1], line[-1, 0])
    level: Floats = line @ np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    return level


def outline(bent: BentPlate) -> tuple[Floats, list[Floats]]:
    """Straight plate from above.

    Parameters
    ----------
    bent : BentPlate
        The plate.

    Returns
    -------
    edge : (n, 2) float array, mm
        Along from the first end, and across.
    holes : list of (m, 2) float arrays, mm
    """
    length, half = float(bent.nodes[-1]), bent.sizes.width / 2.0
    along = np.array([1.0, 0.0])
    edge = length / 2.0 * along + _rounded(length / 2.0, half, corner_radius(bent))
    width = bent.sizes.hole / 2.0
    hole = _rounded(width + bent.sizes.half, width, width)
    return edge, [at * along + hole for at in bent.nodes[bent.hole]]


def _rounded(half_length: float, half_width: float, radius: float) -> Floats:
    """Rectangle about the origin with round corners, (n, 2)."""
    quarter = np.linspace(0.0, np.pi / 2.0, QUARTER + 1)
    corners = []
    for number, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        angle = quarter + number * np.pi / 2.0
        middle = np.array([x * (half_length - radius), y * (half_width - radius)])
        corners.append(middle + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    return np.vstack(corners)
