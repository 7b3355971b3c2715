"""Bodies of a surface: counted as a person counts them, listed, and found by a point."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._assemble import keep_faces
from trajplan.bone._distance import SurfaceDistance, point_distance
from trajplan.bone._nesting import boxes_of, faces_of_shells
from trajplan.bone._read import MAX_BONE, MIN_BONE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from trajplan.arrays import Floats, Ints, Vec3
    from trajplan.bone._types import Shells, Surface

__all__ = ["Body", "bone_sized", "inner_shells", "list_bodies", "shell_at"]


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """One body of a surface: an outermost shell and what lies in it."""

    number: int  # 1.., by the first of its faces in the file
    faces: int
    low: Vec3  # (3,) mm, least corner of its box
    high: Vec3  # (3,) mm
    area: float  # mm²
    closed: bool  # all of its shells are

    @property
    def size(self) -> Floats:
        """Sides of its box, (3,) mm."""
        return self.high - self.low

    @property
    def label(self) -> str:
        """Number, size and place in words."""
        size, middle = self.size, (self.low + self.high) / 2.0
        return (
            f"body {self.number} ({size[0]:.0f} x {size[1]:.0f} x {size[2]:.0f} mm, its middle at "
            f"({middle[0]:.1f}, {middle[1]:.1f}, {middle[2]:.1f}) mm)"
        )


def bone_sized(body: Body) -> bool:
    """Whether a body is as long as bones are.

    Parameters
    ----------
    body : Body
        The body.

    Returns
    -------
    bool
    """
    return bool(MIN_BONE <= body.size.max() <= MAX_BONE)


def list_bodies(surface: Surface, shells: Shells) -> tuple[Body, ...]:
    """List the bodies of a surface.

    Parameters
    ----------
    surface : Surface
        The surface.
    shells : Shells
        Its shells, as from `find_shells`.

    Returns
    -------
    tuple of Body
        In the order of their numbers.
    """
    body = shells.body[shells.of_face]
    order = np.argsort(body, kind="stable")
    start = np.flatnonzero(np.r_[True, np.diff(body[order]) != 0])
    corners = surface.vertices[surface.faces[order]]
    low = np.minimum.reduceat(corners.min(axis=1), start)
    high = np.maximum.reduceat(corners.max(axis=1), start)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.add.reduceat(np.linalg.norm(normal, axis=1) / 2.0, start)
    open_ = np.bincount(shells.body, ~shells.closed) > 0
    counts = np.diff(np.r_[start, len(order)])
    freeze(low, high)
    return tuple(
        Body(i + 1, int(counts[i]), low[i], high[i], float(area[i]), not open_[i])
        for i in range(len(start))
    )


def shell_at(surface: Surface, shells: Shells, point: ArrayLike) -> tuple[int, float]:
    """Find the shell that is nearest to a point.

    Parameters
    ----------
    surface : Surface
        The surface.
    shells : Shells
        Its shells.
    point : array_like, (3,), mm
        The point.

    Returns
    -------
    shell : int
        Row of `shells`.
    away : float, mm
        Its distance.
    """
    at = np.asarray(point, dtype=np.float64)
    rows = faces_of_shells(shells.of_face)
    low, high = boxes_of(surface, rows)
    to_box = np.linalg.norm(np.maximum(np.maximum(low - at, at - high), 0.0), axis=1)
    best, least = 0, np.inf
    for shell in np.argsort(to_box):
        if to_box[shell] >= least:
            break
        own = keep_faces(surface, shells.of_face == shell)
        away = float(point_distance(SurfaceDistance.of(own), at[None])[0])
        if away < least:
            best, least = int(shell), away
    return best, least


def inner_shells(shells: Shells) -> Ints:
    """Find closed shells that lie in the hollow of another: a nail, cement, a loose piece.

    Parameters
    ----------
    shells : Shells
        Shells of a surface.

    Returns
    -------
    (k,) int array
        Rows of `shells`, copies left out.
    """
    deep = (shells.nesting >= 2) & (shells.nesting % 2 == 0) & shells.closed & ~shells.copies()
    return np.flatnonzero(deep)
