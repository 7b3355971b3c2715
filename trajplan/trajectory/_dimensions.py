"""Screw dimensions as arrays, one row an axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.implants import Screw

__all__ = ["ROUNDING", "Dimensions", "dimensions", "stocked_at_least", "stocked_below"]


@dataclass(frozen=True, slots=True, eq=False)
class Dimensions:
    """The screws of ``n`` axes; lengths in mm, NaN where the catalogue names none."""

    kinds: tuple[Screw, ...]
    kind: Ints  # (n,) row of `kinds`
    thread: Floats  # (n,) thread diameter
    core: Floats  # (n,)
    pitch: Floats  # (n,)
    head: Floats  # (n,) head diameter
    head_height: Floats  # (n,)
    head_radius: Floats  # (n,) of the spherical under-surface
    thread_hole: Floats  # (n,)
    gliding_hole: Floats  # (n,)
    shank_hole: Floats  # (n,)
    tap: Floats  # (n,)
    countersink: Floats  # (n,) diameter
    above_seat: Floats  # (n,) part of the stocked length that lies above the seat
    partial: Bools  # (n,) comes with a partial thread
    deep: Bools  # (n,) deep thread, for soft bone

    def take(self, rows: Ints) -> Dimensions:
        """Dimensions of some of the axes.

        Parameters
        ----------
        rows : (m,) int array
            Rows to take.

        Returns
        -------
        Dimensions
        """
        return dimensions(self.kinds, self.kind[rows])


def dimensions(kinds: Sequence[Screw], kind: Ints) -> Dimensions:
    """Spread the dimensions of a few kinds of screw over many axes.

    Parameters
    ----------
    kinds : sequence of Screw
        The kinds in use.
    kind : (n,) int array
        Row of ``kinds`` for each axis.

    Returns
    -------
    Dimensions
    """

    def column(name: str) -> Floats:
        values = [getattr(screw, name) for screw in kinds]
        table = np.array([np.nan if v is None else float(v) for v in values], dtype=np.float64)
        spread: Floats = table[kind]
        return spread

    top = np.array([screw.length_from == "top" for screw in kinds], dtype=np.bool_)
    head_height = column("head_height")
    return Dimensions(
        kinds=tuple(kinds),
        kind=kind,
        thread=column("thread_diameter"),
        core=column("core_diameter"),
        pitch=column("pitch"),
        head=column("head_diameter"),
        head_height=head_height,
        head_radius=column("head_radius"),
        thread_hole=column("thread_hole"),
        gliding_hole=column("gliding_hole"),
        shank_hole=column("shank_hole"),
        tap=column("tap"),
        countersink=column("countersink"),
        above_seat=np.where(top[kind], head_height, 0.0),
        partial=np.array([screw.partial for screw in kinds], dtype=np.bool_)[kind],
        deep=np.array([screw.thread == "deep" for screw in kinds], dtype=np.bool_)[kind],
    )


def stocked_below(dims: Dimensions, length: Floats) -> Floats:
    """Next shorter stocked length of each axis' screw.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    length : (n,) float array, mm
        A length; NaN where unknown.

    Returns
    -------
    (n,) float array, mm
        NaN where nothing shorter is stocked, and where the length is NaN.
    """
    below = np.full(len(length), np.nan)
    for number, kind in enumerate(dims.kinds):
        rows = (dims.kind == number) & np.isfinite(length)
        table = np.array([np.nan, *kind.lengths])
        below[rows] = table[np.searchsorted(table[1:], length[rows] - ROUNDING, side="left")]
    return below


#: A need of 32.0000000001 mm is met by a 32 mm screw: rounding, not bone.
ROUNDING = 1e-6


def stocked_at_least(dims: Dimensions, need: Floats) -> Floats:
    """Shortest stocked length of each axis' screw that reaches a need.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    need : (n,) float array, mm
        Least length; NaN where unknown.

    Returns
    -------
    (n,) float array, mm
        The longest stocked where none reaches; NaN where the need is NaN.
    """
    chosen = np.full(len(need), np.nan)
    for number, kind in enumerate(dims.kinds):
        rows = (dims.kind == number) & np.isfinite(need)
        table = np.array(kind.lengths)
        first = np.searchsorted(table, need[rows] - ROUNDING, side="left")
        chosen[rows] = table[np.minimum(first, len(table) - 1)]
    return chosen
