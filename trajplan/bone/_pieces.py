"""Pieces of segments whose distance to a surface is still open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s

__all__ = ["SLACK", "Pieces"]

#: mm added to every bound, far above the rounding of coordinates of up to a metre (1e-12)
#: and far below what a planner could notice, so that rounding drops no piece.
SLACK = 1e-7


@dataclass(slots=True, eq=False)
class Pieces:
    """Pieces of segments that are still open."""

    row: Ints  # (k,) segment
    start: Floats  # (k,) share of the segment
    width: Floats  # (k,) share of the segment
    first: Floats  # (k,) mm, distance at the start
    last: Floats  # (k,) mm, distance at the end
    length: Floats  # (k,) mm

    def lower(self) -> Floats:
        """Lower bound on the distance within each piece, slack taken off."""
        return 0.5 * (self.first + self.last - self.length) - SLACK

    def kept(self, mask: Bools) -> Pieces:
        """Pick pieces by a mask."""
        return Pieces(
            self.row[mask], self.start[mask], self.width[mask],
            self.first[mask], self.last[mask], self.length[mask],
        )  # fmt: skip

    def halved(self, middle: Floats) -> Pieces:
        """Both halves of every piece, given the distance at its middle."""
        half = 0.5 * self.width
        return Pieces(
            np.tile(self.row, 2), np.concatenate([self.start, self.start + half]),
            np.tile(half, 2), np.concatenate([self.first, middle]),
            np.concatenate([middle, self.last]), np.tile(0.5 * self.length, 2),
        )  # fmt: skip

    def middles(self, p: Vec3s, q: Vec3s) -> Vec3s:
        """Middle points, given the ends of all segments."""
        share = (self.start + 0.5 * self.width)[:, None]
        points: Vec3s = p[self.row] + share * (q - p)[self.row]
        return points
