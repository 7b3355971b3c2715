"""Shells that are open or wound in disorder: the count of passages and the winding number.

Between two passages both are asked, the winding number at the middle. Where they agree, that
is known; where they do not, or where a stretch begins or ends in a hole, it may be bone and
is not known. A line through a crack that even the caps leave open has a passage too few:
there the winding number decides alone, and a span without an end ends where the winding
number falls to one half, has no face there, and is not known.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._passages import starts

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3s
    from trajplan.bone._bone import Bone
    from trajplan.bone._passages import Pairs, Passages

__all__ = ["settle"]

#: Winding numbers below are outside, above inside; between the two neither is known.
OUTSIDE, INSIDE = 0.1, 0.9
#: The middle between the two.
HALF = 0.5
#: How far from a passage, mm, the winding number is asked to see where it leads: well above
#: the rounding of a depth, well below the size of a triangle.
PROBE = 1e-3
#: Halvings of the stretch that holds the end of a span: from metres to below 1e-9 mm.
HALVINGS = 45


def settle(
    bone: Bone, passages: Passages, pairs: Pairs, origin: Vec3s, direction: Vec3s
) -> Passages:
    """Tell inside from outside where the passages alone do not.

    Parameters
    ----------
    bone : Bone
        The bone.
    passages : Passages
        As counted by `passages_of`.
    pairs : Pairs
        Which of them are settled, and which count an even number.
    origin, direction : (m, 3) float array
        Lines.

    Returns
    -------
    Passages
        The same where all are settled; otherwise with the ends in cracks put in.
    """
    rows = np.flatnonzero(~pairs.settled[passages.pair])
    if len(rows) == 0:
        return passages
    ask = _Asker(bone, passages, origin, direction)
    first = starts(passages.pair)
    last = np.append(first[1:], [True])
    even = pairs.even[passages.pair]
    passages = _settle_gaps(passages, rows[~last[rows]], even, ask)
    loose = rows[~even[rows]]
    if len(loose) == 0:
        return passages
    # bone may end in a crack where the middle of a gap is outside, and beyond the ends
    gap = loose[~last[loose] & ~passages.inside[loose]]
    middle = 0.5 * (passages.depth[gap] + passages.depth[np.minimum(gap + 1, len(last) - 1)])
    reach = float(np.linalg.norm(bone.audit.high - bone.audit.low)) + PROBE
    head, tail = loose[first[loose]], loose[last[loose]]
    heads, head_depth = _ends_in_cracks(
        np.concatenate([head, gap + 1]),
        np.concatenate([passages.depth[head] - reach, middle]), -PROBE, ask,
    )  # fmt: skip
    tails, tail_depth = _ends_in_cracks(
        np.concatenate([tail, gap]),
        np.concatenate([passages.depth[tail] + reach, middle]), PROBE, ask,
    )  # fmt: skip
    return _with_ends(passages, heads, head_depth, tails, tail_depth)


class _Asker:
    """Winding numbers about the shell of a passage, at a depth of the passage's line."""

    def __init__(self, bone: Bone, passages: Passages, origin: Vec3s, direction: Vec3s) -> None:
        self._winding = bone.winding
        self._passages = passages
        self._origin, self._direction = origin, direction

    def __call__(self, rows: Ints, depth: Floats) -> Floats:
        """Winding number at a depth, for each of some passages."""
        line, shell = self._passages.line[rows], self._passages.shell[rows]
        points = self._origin[line] + depth[:, None] * self._direction[line]
        number = np.zeros(len(rows))
        order = np.argsort(shell, kind="stable")
        for part in np.split(order, np.flatnonzero(np.diff(shell[order])) + 1):
            if len(part):
                number[part] = self._winding.number(int(shell[part[0]]), points[part])
        return number

    def depth(self, rows: Ints) -> Floats:
        """Depths of some passages."""
        return self._passages.depth[rows]


def _settle_gaps(passages: Passages, rows: Ints, even: Bools, ask: _Asker) -> Passages:
    """Decide the stretch after each of some passages by the winding number at its middle."""
    number = ask(rows, 0.5 * (passages.depth[rows] + passages.depth[rows + 1]))
    counted, whole = passages.inside[rows], even[rows]
    between = (number >= OUTSIDE) & (number <= INSIDE)
    # where the count is whole it stands, unless the winding number leans against it
    agrees = counted == (number > HALF)
    at_hole = (passages.face[rows] < 0) | (passages.face[rows + 1] < 0)
    doubted = ~agrees | (at_hole & (counted | between))
    inside, known = passages.inside.copy(), passages.known.copy()
    inside[rows] = np.where(whole, counted | doubted, number >= OUTSIDE)
    known[rows] = np.where(whole, ~doubted, ~between)
    return replace(passages, inside=inside, known=known)


def _ends_in_cracks(rows: Ints, far: Floats, probe: float, ask: _Asker) -> tuple[Ints, Floats]:
    """Passages beside which the line is inside though it is not at `far`; depth of the change.

    The side is that of `probe`: beyond the passage if positive, before it if negative.
    """
    near = ask.depth(rows) + probe
    inside = ask(rows, near) > HALF
    rows, near, far = rows[inside], near[inside], far[inside]
    for _ in range(HALVINGS if len(rows) else 0):
        middle = 0.5 * (near + far)
        inside = ask(rows, middle) > HALF
        near, far = np.where(inside, middle, near), np.where(inside, far, middle)
    return rows, far


def _with_ends(
    passages: Passages, heads: Ints, head_depth: Floats, tails: Ints, tail_depth: Floats
) -> Passages:
    """Put in the passages through cracks before `heads` and after `tails`."""
    if len(heads) + len(tails) == 0:
        return passages
    inside, known = passages.inside.copy(), passages.known.copy()
    inside[tails], known[tails] = True, False
    like = np.concatenate([heads, tails])
    is_head = np.arange(len(like)) < len(heads)
    depth = np.concatenate([passages.depth, head_depth, tail_depth])
    pair = np.concatenate([passages.pair, passages.pair[like]])
    order = np.lexsort((depth, pair))
    return type(passages)(
        pair=pair[order],
        line=np.concatenate([passages.line, passages.line[like]])[order],
        shell=np.concatenate([passages.shell, passages.shell[like]])[order],
        depth=depth[order],
        face=np.concatenate([passages.face, np.full(len(like), -1)])[order],
        inside=np.concatenate([inside, is_head])[order],
        known=np.concatenate([known, ~is_head])[order],
        hull=np.concatenate([passages.hull, passages.hull[like]])[order],
    )
