"""Crossings seen shell by shell: after each one, the line is inside the shell or outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import rows_of

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone._types import Crossings, Shells

__all__ = ["SAME_DEPTH", "Pairs", "Passages", "passages_of", "starts"]

#: Two depths closer than this, mm, are the same: depths carry rounding errors of about
#: 1e-12 mm, so crossings that close may come in either order.
SAME_DEPTH = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Passages:
    """Passages of lines through shells, sorted by line, then shell, then depth."""

    pair: Ints  # (k,) running number, 0.., of the pair of line and shell
    line: Ints  # (k,)
    shell: Ints  # (k,)
    depth: Floats  # (k,) mm along the line
    face: Ints  # (k,) face that is passed; -1: none, the shell has a hole there
    inside: Bools  # (k,) the line is inside the shell from here to the next passage
    known: Bools  # (k,) False where inside and outside could not be told apart


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """How far the passages of each pair of line and shell can be trusted."""

    balanced: Bools  # (p,) the line enters and leaves the shell by turns
    settled: Bools  # (p,) the passages alone tell inside from outside


def passages_of(hits: Crossings, shells: Shells) -> tuple[Passages, Pairs]:
    """Sort crossings by shell, and tell inside from outside by counting.

    Parameters
    ----------
    hits : Crossings
        Crossings of lines with the whole surface.
    shells : Shells
        Pieces of the surface.

    Returns
    -------
    passages : Passages
        All known.
    pairs : Pairs
        On a closed shell the passages always settle the matter: by the level where the
        normals agree (that is the winding number, exactly), by turns where they do not.
    """
    line, shell = rows_of(hits.offsets), shells.of_face[hits.face]
    order = np.lexsort((shell, line)) if len(shells.closed) > 1 else slice(None)
    line, shell, depth, face = line[order], shell[order], hits.depth[order], hits.face[order]
    step = -hits.sign[order].astype(np.int64) * shells.outward[shell]
    first = np.ones(len(line), dtype=bool)
    first[1:] = (line[1:] != line[:-1]) | (shell[1:] != shell[:-1])
    pair, start = np.cumsum(first) - 1, np.flatnonzero(first)
    last = np.append(start[1:], len(line))[: len(start)] - 1
    total = np.cumsum(step)
    level = total - (total[start] - step[start])[pair]

    astray = ((level < 0) | (level > 1)) & (_gaps(depth) > SAME_DEPTH)
    astray[last] = level[last] != 0
    balanced = np.bincount(pair, astray, minlength=len(start)) == 0
    turn = (np.arange(len(line)) - start[pair]) % 2 == 0
    of_pair = shell[start]
    by_turns = shells.closed[of_pair] & ~shells.wound[of_pair]
    settled = shells.closed[of_pair] & np.where(by_turns, ~turn[last], level[last] == 0)
    inside = np.where(by_turns[pair], turn, level > 0)
    inside[last] = False
    known = np.ones(len(line), dtype=bool)
    return Passages(pair, line, shell, depth, face, inside, known), Pairs(balanced, settled)


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
