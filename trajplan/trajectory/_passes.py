"""Passes: the stretches of a line from outside air to outside air."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of, rows_of
from trajplan.bone import Gap, Spans, gaps, running_end

if TYPE_CHECKING:
    from collections.abc import Callable

    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone import Bone

__all__ = ["join_canals", "passes"]

#: Two fragments this close are one bone with a fracture between them, not a bone, air and
#: a bone: a fracture that a lag screw is to close gapes by a millimetre or two (assumption).
#: As far from it may the fracture as it was given lie: a plane fits a rough one no better.
FRACTURE_GAP = 3.0
#: mm; bodies that share no more than this touch: single precision moves a corner by less.
TOUCHING = 0.01


def passes(outer: Spans, fractured: Callable[[Ints, Floats, Floats], Bools] | None = None) -> Spans:
    """Join outer spans into passes.

    Spans of different bodies that touch, overlap, or leave no more than `FRACTURE_GAP`
    between them where the fracture runs make one pass; spans of one body stay apart however
    near they are (a notch is a notch), and so do two bones with a joint between, even where
    they touch. Bodies that lie in one another where no fracture runs make one pass too, which is
    not known: two bones, or a fracture that nobody named.

    Parameters
    ----------
    outer : Spans
        Spans inside the outer surface, sorted by start in each line.
    fractured : callable, optional
        Whether the fracture runs near gaps, from their lines, middles and reaches; by
        default it does in every one that is narrow enough.

    Returns
    -------
    Spans
        One row a line; ``known`` only where all parts are; ``body`` is the first part's.
    """
    line = rows_of(outer.offsets)
    reach, reach_at = running_end(outer.end, line)
    same_line = line[1:] == line[:-1]
    gap = outer.start[1:] - reach[:-1]
    other_body = outer.body[1:] != outer.body[reach_at[:-1]]
    joins = same_line & ~other_body & (gap <= 0.0)
    close = np.flatnonzero(same_line & other_body & (gap <= FRACTURE_GAP))
    if fractured is not None and len(close):
        apart = gap[close]
        runs = fractured(line[close], reach[close] + apart / 2, np.abs(apart) / 2 + FRACTURE_GAP)
        lapping = ~runs & (apart < -TOUCHING)
        known = outer.known.copy()
        known[1 + close[lapping]] = False
        outer = replace(outer, known=known)
        close = close[runs | lapping]
    joins[close] = True
    return _join(outer, joins, reach, reach_at)


def join_canals(
    bone: Bone, outer: Spans, origin: Vec3s, direction: Vec3s, lines: int, crossing: Floats | None
) -> tuple[Spans, Bools, Bools]:
    """Join passes that a canal lies between, where the canal is open at an end.

    A canal that is a closed shell of its own is already inside the outer surface. One that
    opens at an end, as in a piece of shaft or in a fragment, is part of that surface: a
    line leaves the bone into it. Such a gap is told from air by the bone round it
    (`trajplan.bone.gaps`). Between two bodies it is a canal only where the fracture runs
    through it; elsewhere they are two bones with a joint between.

    Parameters
    ----------
    bone : Bone
        The bone.
    outer : Spans
        Passes, as from `passes`.
    origin, direction : (n * lines, 3) float arrays
        The lines, bundle by bundle.
    lines : int
        Lines in a bundle, the axis first.
    crossing : (n,) float array, mm, or None
        Depth from the axis origin at which the fracture is crossed.

    Returns
    -------
    Spans
        Passes with such gaps filled, and those that may be such.
    canal : (n,) bool array
        Whether the axis of a bundle crosses such a gap.
    unsure : (n,) bool array
        Whether a line of a bundle crosses a gap that may be canal, or air.
    """
    line = rows_of(outer.offsets)
    before = np.flatnonzero(line[1:] == line[:-1])
    one_body, fractured = _between(bone, outer, before, line[before] // lines, crossing)
    before, slit = before[one_body | fractured], (~one_body)[one_body | fractured]
    middle = (outer.end[before] + outer.start[before + 1]) / 2.0
    bundle = line[before] // lines
    on_axis = line[before] % lines == 0
    joins = np.zeros(max(len(line) - 1, 0), dtype=np.bool_)
    canal, unsure = np.zeros((2, len(origin) // lines), dtype=np.bool_)
    if len(before) == 0:
        return outer, canal, unsure
    found = np.full(len(before), int(Gap.AIR))

    def ask(rows: Ints) -> None:
        at = origin[line[before[rows]]] + middle[rows, None] * direction[line[before[rows]]]
        found[rows] = gaps(bone, at, slit=slit[rows])

    ask(np.flatnonzero(on_axis))
    # A ring line's gap that faces a canal gap of its axis is the same canal: no need to ask.
    told = on_axis & (found == Gap.CANAL)
    low, high = _windows(outer, before[told], bundle[told], len(canal))
    beside = ~on_axis & (middle > low[bundle]) & (middle < high[bundle])
    found[beside] = Gap.CANAL
    ask(np.flatnonzero(~on_axis & ~beside))
    joins[before[found != Gap.AIR]] = True
    canal[bundle[told]] = True
    unsure[bundle[found == Gap.UNSURE]] = True
    return _join(outer, joins, outer.end, np.arange(len(outer.end))), canal, unsure


def _between(
    bone: Bone, outer: Spans, before: Ints, bundle: Ints, crossing: Floats | None
) -> tuple[Bools, Bools]:
    """Whether a gap has one body on both sides, and whether the fracture lies in it."""
    left, right = outer.end_face[before], outer.start_face[before + 1]
    body = bone.shells.body[bone.shells.of_face]
    one_body: Bools = (left < 0) | (right < 0) | (body[left] == body[right])
    if crossing is None:
        return one_body, np.zeros_like(one_body)
    at = crossing[bundle]
    fractured = (outer.end[before] - FRACTURE_GAP <= at) & (
        at <= outer.start[before + 1] + FRACTURE_GAP
    )
    return one_body, fractured


def _windows(outer: Spans, before: Ints, bundle: Ints, n: int) -> tuple[Floats, Floats]:
    """Least and greatest depth of the canal gaps of each axis."""
    low, high = np.full(n, np.inf), np.full(n, -np.inf)
    np.minimum.at(low, bundle, outer.end[before])
    np.maximum.at(high, bundle, outer.start[before + 1])
    return low, high


def _join(spans: Spans, joins: Bools, reach: Floats, reach_at: Ints) -> Spans:
    """Join each span to the one before it where told; ``reach`` is the end so far."""
    count = len(spans.start)
    if count == 0:
        return spans
    begin = np.flatnonzero(np.r_[True, ~joins])
    last = np.append(begin[1:], count) - 1
    line = rows_of(spans.offsets)
    counts = np.bincount(line[begin], minlength=len(spans.offsets) - 1)
    return Spans(
        offsets=offsets_of(counts),
        start=spans.start[begin],
        end=reach[last],
        body=spans.body[begin],
        known=np.logical_and.reduceat(spans.known, begin),
        start_face=spans.start_face[begin],
        end_face=spans.end_face[reach_at[last]],
    )
