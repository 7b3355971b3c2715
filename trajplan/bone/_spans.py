"""From crossings to spans: where lines run in bone.

In each shell, the level after a crossing is the number of times the line has entered it
less the times it has left it. On a closed shell that is the winding number between two
crossings, exactly; the line is inside where it is above zero. Open shells are settled by
`trajplan.bone._settle`. Shells of one body are then put together: bone is what is inside
more outer shells than hollows.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import offsets_of
from trajplan.bone._lapping import doubt_lapping
from trajplan.bone._passages import SAME_DEPTH, passages_of, starts
from trajplan.bone._settle import settle
from trajplan.bone._types import LineSpans, Spans

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._bone import Bone
    from trajplan.bone._passages import Passages
    from trajplan.bone._types import Shells

__all__ = ["line_spans", "outer_spans"]


def line_spans(bone: Bone, origin: Vec3s, direction: Vec3s) -> LineSpans:
    """Find where endless lines run in bone.

    Parameters
    ----------
    bone : Bone
        The bone.
    origin : (m, 3) float array, mm
        A point of each line, inside the bone or outside it.
    direction : (m, 3) float array
        Unit vectors.

    Returns
    -------
    LineSpans
        Depths count from `origin` along `direction` and may be negative. Where a span ends
        in a hole of an open surface, its face is -1 and it is not known.
    """
    passages, balanced = _passages(bone, origin, direction)
    solid, outer = _solid_and_outer(bone.shells, passages, len(origin))
    if bone.shells.body.any():
        solid, outer = doubt_lapping(solid, outer)
    return LineSpans(solid=solid, outer=outer, balanced=balanced)


def outer_spans(bone: Bone, origin: Vec3s, direction: Vec3s) -> Spans:
    """Find where endless lines run within the outer surface: the `outer` of `line_spans`.

    Parameters
    ----------
    bone, origin, direction
        As for `line_spans`.

    Returns
    -------
    Spans
    """
    if bone.shells.body.any():  # where bodies lap, what is solid tells what is in doubt
        return line_spans(bone, origin, direction).outer
    passages, _ = _passages(bone, origin, direction)
    inside, doubt = _in_and_doubt(bone.shells, passages)
    return _outer(bone.shells, passages, inside, doubt, len(origin))


def _passages(bone: Bone, origin: Vec3s, direction: Vec3s) -> tuple[Passages, Bools]:
    """Passages of lines through shells, and the lines on which all of them add up."""
    hits = bone.caster.crossings(origin, direction)
    cap_hits = None if bone.caps is None else bone.caps.caster.crossings(origin, direction)
    passages, pairs = passages_of(hits, bone.shells, bone.caps, cap_hits)
    balanced = np.ones(len(origin), dtype=bool)
    balanced[passages.line[starts(passages.pair)][~pairs.balanced]] = False
    passages = settle(bone, passages, pairs, origin, direction)
    doubted = bone.shells.doubted()
    if doubted.any():
        passages = replace(passages, known=passages.known & ~doubted[passages.shell])
    return passages, balanced


#: Rows of the widest key, over those of the mean one, up to which keys are sorted side by side.
WIDEST = 4
#: Fewer rows are sorted as they stand.
MANY = 2_000


def _solid_and_outer(shells: Shells, passages: Passages, lines: int) -> tuple[Spans, Spans]:
    """Put the shells of each body together, with and without their hollows."""
    nesting, first = shells.nesting[passages.shell], starts(passages.pair)
    inside, doubt = _in_and_doubt(shells, passages)
    outer = _outer(shells, passages, inside, doubt, lines)
    if not nesting.any():
        return outer, outer
    adds = (nesting % 2 == 0) | passages.hull
    # a hollow takes bone away only where it is known to be there
    hollow = _changes(_within(shells, passages) & passages.known, first)
    solid = _sweep(shells, passages, np.where(adds, inside, -hollow), doubt, lines)
    return solid, outer


def _outer(shells: Shells, passages: Passages, inside: Ints, doubt: Ints, lines: int) -> Spans:
    """Put the outer shells of each body together."""
    outermost = shells.nesting[passages.shell] == 0
    count, unsure = np.where(outermost, inside, 0), np.where(outermost, doubt, 0)
    return _sweep(shells, passages, count, unsure, lines)


def _in_and_doubt(shells: Shells, passages: Passages) -> tuple[Ints, Ints]:
    """Where lines go into shells and out of them, and where that is not known."""
    first, within = starts(passages.pair), _within(shells, passages)
    return _changes(within, first), _changes(within & ~passages.known, first)


def _within(shells: Shells, passages: Passages) -> Bools:
    """What lies beyond each passage is inside of its shell, which is no copy."""
    within: Bools = passages.inside & ~shells.copies()[passages.shell]
    return within


def _changes(state: Bools, first: Bools) -> Ints:
    """Change of a state at each passage: +1, 0 or -1; it is False before the first."""
    change = state.astype(np.int64)
    change[1:] -= np.where(first[1:], 0, change[:-1])
    return change


def _sweep(shells: Shells, passages: Passages, count: Ints, doubt: Ints, lines: int) -> Spans:
    """Spans in which the running sum of `count` is positive, body by body.

    Stretches of no length count for nothing: what touches at the same depth is one span, and
    the wall between two shells that coincide is no bone.
    """
    kept = np.flatnonzero((count != 0) | (doubt != 0))
    bodies = int(shells.body.max(initial=-1)) + 1
    key = passages.line[kept] * bodies + shells.body[passages.shell[kept]]
    if len(shells.body) > bodies or passages.hull.any():
        order = _sorted(key, passages.depth[kept], count[kept])
        kept, key = kept[order], key[order]
    depth, face = passages.depth[kept], passages.face[kept]
    # every pair of line and shell sums to zero, so one running sum serves all of them
    level, unsure = np.cumsum(count[kept]), np.cumsum(doubt[kept]) > 0
    solid = level > 0
    stretch = np.flatnonzero((key[1:] == key[:-1]) & (np.diff(depth) > SAME_DEPTH))
    astray = stretch[level[stretch] < 0]  # a hollow where there is no bone for it to be in
    if len(astray):
        unsure |= np.isin(key, key[astray])
    state = solid[stretch] * (1 + unsure[stretch])  # 0 outside, 1 inside, 2 inside, not known
    opens, closes = _runs(key[stretch], state)
    head, tail = stretch[opens], stretch[closes] + 1
    line, body = np.divmod(key[head], max(1, bodies))
    order = np.arange(len(head))
    if bodies > 1:
        order = np.lexsort((body, depth[tail], depth[head], line))
        head, tail = head[order], tail[order]
    return Spans(
        offsets=offsets_of(np.bincount(line, minlength=lines)),
        start=depth[head],
        end=depth[tail],
        body=body[order],
        known=(state[opens] == 1)[order],
        start_face=face[head],
        end_face=face[tail],
    )


def _sorted(key: Ints, depth: Floats, count: Ints) -> Ints:
    """Order of rows by key, then depth, then count: ``np.lexsort((count, depth, key))``.

    The rows of a key mostly stand together, and are few: sorted key by key, side by side, many
    rows cost less than half as much (measured). Rows of the same depth are left to `numpy.lexsort`.
    """
    if len(key) < MANY or (key[1:] < key[:-1]).any():
        return np.lexsort((count, depth, key))
    first = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    size = np.diff(np.r_[first, len(key)])
    wide = int(size.max())
    if wide * len(first) > WIDEST * len(key):
        return np.lexsort((count, depth, key))
    place = np.arange(len(key)) - np.repeat(first, size)
    rows = np.full((len(first), wide), np.inf)
    row = np.repeat(np.arange(len(first)), size)
    rows[row, place] = depth
    order: Ints = (np.argsort(rows, axis=1, kind="stable") + first[:, None])[row, place]
    by_depth = depth[order]
    if ((by_depth[1:] == by_depth[:-1]) & (key[1:] == key[:-1])).any():  # keys stay in place
        return np.lexsort((count, depth, key))
    return order


def _runs(key: Ints, state: Ints) -> tuple[Ints, Ints]:
    """First and last of each run of the same key and the same state above zero."""
    edge = np.ones(len(key) + 1, dtype=bool)
    edge[1:-1] = (key[1:] != key[:-1]) | (state[1:] != state[:-1])
    return np.flatnonzero(edge[:-1] & (state > 0)), np.flatnonzero(edge[1:] & (state > 0))
