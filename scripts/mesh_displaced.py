"""The demo shaft in three displaced fragments: the wedge aside, the upper end turned and short.

The lower fragment stays; `UPPER_MOVE` and `PIECE_MOVE` say how the others were moved from where
they belong, so that a reduction can be compared with the truth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from mesh_breaks import RIDGE, above, below, wedge_between
from mesh_parts import combine
from mesh_shaft import SHAFT_MIDDLE

if TYPE_CHECKING:
    from mesh_parts import Floats, Mesh

__all__ = ["PIECE_MOVE", "UPPER_MOVE", "displaced", "move_of"]

#: The break: a rough one, as bone breaks. Waves over x and y: mm, radians a mm each, phase.
ROUGH = ((0.9, 0.31, 0.22, 0.3), (0.6, -0.52, 0.47, 1.7), (0.45, 0.83, -0.71, 0.9))
#: How steeply the break rises on both sides of the ridge.
SLOPE = 1.5
#: mm by which the wedge and the upper fragment stand off when all are in place: bone lost.
LOST = 0.15


def move_of(turn: tuple[float, float, float], shift: tuple[float, float, float]) -> Floats:
    """A movement about the middle of the break, 4 x 4: rotation vector in degrees, shift in mm."""
    vector = np.radians(np.array(turn))
    angle = float(np.linalg.norm(vector))
    x, y, z = vector / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    matrix = np.eye(4)
    matrix[:3, :3] += np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
    about = np.array([0.0, 0.0, SHAFT_MIDDLE])
    matrix[:3, 3] = about - matrix[:3, :3] @ about + np.array(shift)
    return matrix


#: From where they belong to how they lie: the upper end tilted, turned, aside and shortened; the
#: wedge pulled out and twisted.
UPPER_MOVE = move_of((6.0, 9.0, 14.0), (-9.0, 6.0, -8.0))
PIECE_MOVE = move_of((-8.0, 14.0, 9.0), (15.0, -5.0, 4.0))


def displaced() -> dict[str, Mesh]:
    """The three fragments as they lie."""
    upper, upper_faces = above(_upper)
    piece, piece_faces = wedge_between(_lower, _upper)
    off = np.array([0.0, 0.0, LOST])
    return {
        "displaced_lower": combine({"lower": below(_lower)}),
        "displaced_upper": combine({"upper": (_moved(upper + off, UPPER_MOVE), upper_faces)}),
        "displaced_piece": combine({"wedge": (_moved(piece + off, PIECE_MOVE), piece_faces)}),
    }


def _moved(points: Floats, matrix: Floats) -> Floats:
    moved: Floats = points @ matrix[:3, :3].T + matrix[:3, 3]
    return moved


def _lower(x: Floats, y: Floats) -> Floats:
    beyond = x - RIDGE
    return SHAFT_MIDDLE - SLOPE * beyond + _rough(x, y)


def _upper(x: Floats, y: Floats) -> Floats:
    beyond = x - RIDGE
    return SHAFT_MIDDLE + SLOPE * np.abs(beyond) + _rough(x, y)


def _rough(x: Floats, y: Floats) -> Floats:
    waves = [size * np.sin(a * x + b * y + phase) for size, a, b, phase in ROUGH]
    total: Floats = np.sum(waves, axis=0)
    return total
