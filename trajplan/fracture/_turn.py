"""How far one fragment is turned against the other: the turn that gap and step betray."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.fracture._types import Turn

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Vec3, Vec3s
    from trajplan.fracture._midsurface import MidSurface
    from trajplan.fracture._stepoff import Rim

__all__ = ["measure_turn"]

#: mm by which surfaces must move, root mean square, for each radian of a turn, or the turn
#: about that axis does not show: 0.35 mm at 10 degrees, about the noise of a segmentation
#: (assumption). A round section moves in itself when it is turned about its middle.
SHOWS = 2.0


def measure_turn(middle: MidSurface, rim: Rim) -> Turn:
    """Find the turn of the second fragment against the first.

    Parameters
    ----------
    middle : MidSurface
        The surface between them, with the gap.
    rim : Rim
        Its rim, with the step.

    Returns
    -------
    Turn

    Notes
    -----
    A fragment that is shifted by ``t`` and turned by the small vector ``w`` about the middle
    ``c`` of the fracture moves at a point ``p`` by ``t + w x (p - c)``. Along the normal
    between the fragments that is the gap, along the outward normal of the rim the step. The
    six numbers that explain both best, by least squares, hold the turn; of `w` only what
    moves the surfaces enough to be seen. Gaps together weigh as much as steps together.
    """
    rows = np.isfinite(rim.step)
    points = np.concatenate([middle.surface.vertices, rim.points[rows]])
    along = np.concatenate([middle.normals, rim.outward[rows]])
    moved = np.concatenate([middle.gap, rim.step[rows]])
    weight = np.concatenate([_shares(middle.area), _shares(rim.length[rows])])
    centre = np.average(middle.surface.vertices, axis=0, weights=middle.area)
    turn = _normal_equations(points - centre, along, moved, weight)
    values, axes = np.linalg.eigh(turn[0])
    shows = values >= SHOWS**2
    vector: Vec3 = axes[:, shows] @ ((axes[:, shows].T @ turn[1]) / values[shows])
    return Turn(float(np.degrees(np.linalg.norm(vector))), bool(not shows.all()))


def _shares(weight: Floats) -> Floats:
    total = weight.sum()
    return weight / total if total > 0.0 else weight


def _normal_equations(
    arm: Vec3s, along: Vec3s, moved: Floats, weight: Floats
) -> tuple[Floats, Floats]:
    """Square matrix and right side for the turn, once the best shift is taken off."""
    columns = np.hstack([along, np.cross(arm, along)])  # w x p . n = p x n . w
    square = columns.T @ (weight[:, None] * columns)
    side = columns.T @ (weight * moved)
    back = np.linalg.pinv(square[:3, :3], rcond=1e-6, hermitian=True)
    cross = square[3:, :3] @ back
    return square[3:, 3:] - cross @ square[:3, 3:], side[3:] - cross @ side[:3]
