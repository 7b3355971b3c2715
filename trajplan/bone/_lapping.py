"""Bone that two bodies hold at once: fragments pressed into one another, or no fragments."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone._types import Spans

__all__ = ["doubt_lapping", "running_end"]

#: mm along a line up to which two fragments may lie in one another: 2 mm square to the fracture,
#: past which a plan fails, met at 45 degrees.
LAPPING = 3.0
#: mm of one body that lies in another altogether and is more than the noise of a surface. Two
#: fragments overlap end to end; a screw, or a canal that is no closed shell inside its bone, lies
#: in it from side to side.
WITHIN = 0.5


def doubt_lapping(solid: Spans, outer: Spans) -> tuple[Spans, Spans]:
    """Vouch for no span that lies in another body as no fragment does.

    Parameters
    ----------
    solid, outer : Spans
        Spans of the same lines, sorted by start in each.

    Returns
    -------
    solid, outer : Spans
        The same, not known where two bodies of a line hold more bone at once than fragments
        that were pressed into one another do.
    """
    line = rows_of(solid.offsets)
    reach, owner = running_end(solid.end, line)
    # spans of one body do not overlap, so what does belongs to another
    shared = np.minimum(solid.end[1:], reach[:-1]) - solid.start[1:]
    held = (solid.end[1:] <= reach[:-1]) & (shared > WITHIN)
    rows = 1 + np.flatnonzero((line[1:] == line[:-1]) & (held | (shared > LAPPING)))
    if len(rows) == 0:
        return solid, outer
    rows = np.concatenate([rows, owner[rows - 1]])
    known = solid.known.copy()
    known[rows] = False
    bodies = int(max(solid.body.max(), outer.body.max(initial=0))) + 1
    doubted = line[rows] * bodies + solid.body[rows]
    same = np.isin(rows_of(outer.offsets) * bodies + outer.body, doubted)
    return replace(solid, known=known), replace(outer, known=outer.known & ~same)


def running_end(end: Floats, line: Ints) -> tuple[Floats, Ints]:
    """Greatest end so far in each line, and the span that it belongs to.

    Parameters
    ----------
    end : (k,) float array, mm
        Ends of spans, sorted by line and start.
    line : (k,) int array
        Line of each.

    Returns
    -------
    reach : (k,) float array, mm
    owner : (k,) int array
    """
    rising: Bools = (line[1:] != line[:-1]) | (end[1:] >= end[:-1])
    if rising.all():  # none lies in another: as a rule
        return end, np.arange(len(end))
    order = np.argsort(end, kind="stable")
    rank = np.empty(len(end), dtype=np.int64)
    rank[order] = np.arange(len(end))
    top = np.maximum.accumulate(line * len(end) + rank) - line * len(end)
    owner = order[top]
    return end[owner], owner
