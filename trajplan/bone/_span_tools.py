"""Questions about spans, for all lines at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone._types import Spans

__all__ = ["containing", "covered", "covered_unknown", "first_after", "overlapping"]


def covered(spans: Spans, low: Floats, high: Floats) -> Floats:
    """Length of each line between two depths that lies in known spans.

    Parameters
    ----------
    spans : Spans
        Spans of m lines; where some overlap, the length counts once.
    low, high : (m,) float array, mm
        Depths; NaN, or `high` below `low`, covers nothing.

    Returns
    -------
    (m,) float array, mm
    """
    return _union(spans, spans.known, low, high)


def covered_unknown(spans: Spans, low: Floats, high: Floats) -> Floats:
    """Length of each line between two depths that lies only in spans that are not known.

    Parameters
    ----------
    spans : Spans
        Spans of m lines.
    low, high : (m,) float array, mm
        Depths; NaN, or `high` below `low`, covers nothing.

    Returns
    -------
    (m,) float array, mm
        Together with `covered`: the length in any span.
    """
    if spans.known.all():
        return np.zeros(len(spans.offsets) - 1)
    anything = np.ones(len(spans.known), dtype=bool)
    both = _union(spans, anything, low, high)
    return np.maximum(both - covered(spans, low, high), 0.0)


def _union(spans: Spans, which: Bools, low: Floats, high: Floats) -> Floats:
    """Length between two depths of the union of some of each line's spans."""
    row = rows_of(spans.offsets)
    start, end = np.maximum(spans.start, low[row]), np.minimum(spans.end, high[row])
    chosen = np.flatnonzero(which & (start < end))
    row, start, end = row[chosen], start[chosen], end[chosen]
    if not ((row[1:] == row[:-1]) & (start[1:] < end[:-1])).any():  # none overlap: as a rule
        return np.bincount(row, end - start, len(low)).astype(np.float64)
    depth = np.concatenate([start, end])
    step = np.repeat([1, -1], len(chosen))
    row = np.tile(row, 2)
    order = np.lexsort((depth, row))
    inside = np.cumsum(step[order]) > 0
    length = np.append(np.diff(depth[order]), 0.0)
    return np.bincount(row[order], np.where(inside, length, 0.0), len(low)).astype(np.float64)


def first_after(spans: Spans, depth: Floats) -> Ints:
    """First span of each line that ends beyond a depth.

    Parameters
    ----------
    spans : Spans
        Spans of m lines.
    depth : (m,) float array, mm
        One depth a line.

    Returns
    -------
    (m,) int array
        Index into the flat arrays of `spans`; -1 where there is none.
    """
    return _first(spans, spans.end > depth[rows_of(spans.offsets)])


def containing(spans: Spans, depth: Floats) -> Ints:
    """First span of each line that a depth lies in, ends included.

    Parameters
    ----------
    spans : Spans
        Spans of m lines.
    depth : (m,) float array, mm
        One depth a line.

    Returns
    -------
    (m,) int array
        Index into the flat arrays of `spans`; -1 where there is none.
    """
    at = depth[rows_of(spans.offsets)]
    return _first(spans, (spans.start <= at) & (at <= spans.end))


def _first(spans: Spans, which: Bools) -> Ints:
    """First of the chosen spans of each line; -1 where there is none."""
    chosen = np.flatnonzero(which)
    row = rows_of(spans.offsets)[chosen]
    first = np.full(len(spans.offsets) - 1, -1)
    first[row[::-1]] = chosen[::-1]  # rows ascend: the first of each is written last
    return first


def overlapping(spans: Spans, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Least start and greatest end of all spans that reach into a stretch of each line.

    Parameters
    ----------
    spans : Spans
        Spans of m lines.
    low, high : (m,) float array, mm
        The stretch, ends included.

    Returns
    -------
    start, end : (m,) float array, mm
        NaN where no span reaches into the stretch.
    """
    row = rows_of(spans.offsets)
    chosen = (spans.start <= high[row]) & (spans.end >= low[row])
    start, end = np.full((2, len(low)), np.nan)
    np.fmin.at(start, row[chosen], spans.start[chosen])
    np.fmax.at(end, row[chosen], spans.end[chosen])
    return start, end
