"""Crossings seen shell by shell: after each one, the line is inside the shell or outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Int8s, Ints
    from trajplan.bone._caps import Caps
    from trajplan.bone._types import Crossings, Shells

__all__ = ["SAME_DEPTH", "Pairs", "Passages", "passages_of", "starts"]

#: Two depths closer than this, mm, are the same: depths carry rounding errors of about
#: 1e-12 mm, so crossings that close may come in either order.
SAME_DEPTH = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Passages:
    """Passages of lines through shells, sorted by line, then shell, then depth."""

    pair: Ints  # (k,) running number, 0.., of the pair of line and shell, or line and hull
    line: Ints  # (k,)
    shell: Ints  # (k,)
    depth: Floats  # (k,) mm along the line
    face: Ints  # (k,) face that is passed; -1: none, the shell has a hole there
    inside: Bools  # (k,) the line is inside the shell from here to the next passage
    known: Bools  # (k,) False where inside and outside could not be told apart
    hull: Bools  # (k,) passes the hull of a hole of the shell, in which nothing is known


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """How far the passages of each pair of line and shell can be trusted."""

    balanced: Bools  # (p,) the line enters and leaves the shell by turns, through no hole
    settled: Bools  # (p,) the passages alone tell inside from outside
    even: Bools  # (p,) as many passages in as out can be


def passages_of(
    hits: Crossings,
    shells: Shells,
    caps: Caps | None = None,
    cap_hits: Crossings | None = None,
) -> tuple[Passages, Pairs]:
    """Sort crossings by shell, and tell inside from outside by counting.

    Parameters
    ----------
    hits : Crossings
        Crossings of lines with the whole surface.
    shells : Shells
        Pieces of the surface.
    caps : Caps, optional
        Caps over its holes.
    cap_hits : Crossings, optional
        Crossings of the same lines with the caps.

    Returns
    -------
    passages : Passages
        Those through a cap have no face.
    pairs : Pairs
        On a closed shell whose normals agree the passages settle the matter, by the level
        (that is the winding number, exactly): one is inside; below zero, and above one, the
        surface has been pushed through itself and nothing is known. On other shells the passages
        count by turns, and `settle` has to hear the winding number as well.
    """
    line, shell, piece, depth, face, sign = _rows(hits, shells, caps, cap_hits)
    step = -sign.astype(np.int64) * shells.outward[shell]
    first = np.ones(len(line), dtype=bool)
    first[1:] = (line[1:] != line[:-1]) | (piece[1:] != piece[:-1])
    pair, start = np.cumsum(first) - 1, np.flatnonzero(first)
    last = np.append(start[1:], len(line))[: len(start)] - 1
    total = np.cumsum(step)
    level = total - (total[start] - step[start])[pair]

    apart = _gaps(depth) > SAME_DEPTH
    folded = (level > 1) & apart
    astray = folded | ((level < 0) & apart)
    astray[last] = level[last] != 0
    astray |= face < 0
    balanced = np.bincount(pair, astray, minlength=len(start)) == 0
    turn = (np.arange(len(line)) - start[pair]) % 2 == 0
    hull = piece >= len(shells.closed)
    by_level = (shells.closed & shells.wound)[shell[start]]
    settled = (by_level & (level[last] == 0)) | hull[start]
    inside = np.where(by_level[pair], level != 0, turn)
    inside[last] = False
    known = np.where(by_level[pair], (level >= 0) & ~folded, ~hull)
    passages = Passages(pair, line, shell, depth, face, inside, known, hull)
    return passages, Pairs(balanced, settled, even=~turn[last])


def _rows(
    hits: Crossings, shells: Shells, caps: Caps | None, cap_hits: Crossings | None
) -> tuple[Ints, Ints, Ints, Floats, Ints, Int8s]:
    """Line, shell, piece, depth, face, sign of all passages, by line, then piece, then depth.

    A piece is a shell with its caps, or, numbered after all shells, the hull of a hole.
    """
    line, shell = rows_of(hits.offsets), shells.of_face[hits.face]
    depth, face, sign = hits.depth, hits.face, hits.sign
    if caps is None or cap_hits is None:
        if len(shells.closed) == 1:
            return line, shell, shell, depth, face, sign
        order = np.lexsort((shell, line))
        piece = shell
    else:
        kept, through = ~caps.spare[face], cap_hits.face
        line = np.concatenate([line[kept], rows_of(cap_hits.offsets)])
        shell = np.concatenate([shell[kept], caps.shell[through]])
        hull = np.concatenate([np.full(kept.sum(), -1), caps.hull[through]])
        piece = np.where(hull < 0, shell, hull + len(shells.closed))
        depth = np.concatenate([depth[kept], cap_hits.depth])
        face = np.concatenate([face[kept], np.full(len(through), -1)])
        sign = np.concatenate([sign[kept], np.zeros(len(through), np.int8)])
        order = np.lexsort((depth, piece, line))
    return line[order], shell[order], piece[order], depth[order], face[order], sign[order]


def starts(pair: Ints) -> Bools:
    """Mark the first passage of each pair."""
    first = np.ones(len(pair), dtype=bool)
    first[1:] = pair[1:] != pair[:-1]
    return first


def _gaps(depth: Floats) -> Floats:
    """Distance from each depth to the next; the last has none."""
    gap = np.zeros(len(depth))
    gap[:-1] = np.diff(depth)
    return gap
