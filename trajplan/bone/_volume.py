"""The inside of a closed surface."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._inside import Winding
from trajplan.bone._shells import find_shells

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Ints, Vec3s
    from trajplan.bone._types import Surface

__all__ = ["Volume"]

#: Winding number above which a point is inside.
INSIDE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Volume:
    """What the closed pieces of a surface enclose; build it with `Volume.of`."""

    winding: Winding
    closed: Ints  # rows of the closed shells

    @classmethod
    def of(cls, surface: Surface) -> Volume:
        """Find the closed pieces of a surface.

        Parameters
        ----------
        surface : Surface
            Any surface; an open patch encloses nothing.

        Returns
        -------
        Volume
        """
        shells = find_shells(surface)
        return cls(Winding(surface, shells), np.flatnonzero(shells.closed & (shells.nesting == 0)))

    def contains(self, points: Vec3s) -> Bools:
        """Whether points lie inside.

        Parameters
        ----------
        points : (n, 3) float array, mm
            Points.

        Returns
        -------
        (n,) bool array
        """
        inside = np.zeros(len(points), dtype=np.bool_)
        for shell in self.closed:
            inside |= self.winding.number(int(shell), points) > INSIDE
        return inside
