"""Screw dimensions as arrays, one row an axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.implants import Screw

__all__ = ["Dimensions", "dimensions"]


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
    return _choose(dims, [s.lengths for s in dims.kinds], need - ROUNDING, up=True)


def stocked_at_most(dims: Dimensions, room: Floats) -> Floats:
    """Longest stocked length of each axis' screw that fits a room.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    room : (n,) float array, mm
        Greatest length; NaN where unknown.

    Returns
    -------
    (n,) float array, mm
        The shortest stocked where none fits; NaN where the room is NaN.
    """
    return _choose(dims, [s.lengths for s in dims.kinds], room + ROUNDING, up=False)


def thread_at_most(dims: Dimensions, room: Floats) -> Floats:
    """Longest partial thread of each axis' screw that fits a room.

    Parameters
    ----------
    dims : Dimensions
        Screws of ``n`` axes.
    room : (n,) float array, mm
        Greatest thread length; NaN where unknown.

    Returns
    -------
    (n,) float array, mm
        The shortest on offer where none fits; NaN where the screw has no partial thread.
    """
    return _choose(dims, [s.thread_lengths for s in dims.kinds], room + ROUNDING, up=False)


#: A need of 32.0000000001 mm is met by a 32 mm screw: rounding, not bone.
ROUNDING = 1e-6


def _choose(
    dims: Dimensions, tables: Sequence[Sequence[float]], wanted: Floats, *, up: bool
) -> Floats:
    """First entry >= wanted (up), or last entry <= wanted, of each axis' own table."""
    flat = np.array([v for table in tables for v in table], dtype=np.float64)
    offsets = offsets_of([len(table) for table in tables])
    chosen = np.full(len(wanted), np.nan)
    for number in range(len(tables)):
        rows = (dims.kind == number) & np.isfinite(wanted)
        table = flat[offsets[number] : offsets[number + 1]]
        if len(table) == 0 or not rows.any():
            continue
        side = np.searchsorted(table, wanted[rows], side="left" if up else "right")
        chosen[rows] = table[np.clip(side if up else side - 1, 0, len(table) - 1)]
    return chosen
