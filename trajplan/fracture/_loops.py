"""Linking the pieces of a cross-section into loops, and closing those that gape."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints

__all__ = ["close_chains", "trace"]

#: A chain may be closed upon itself while others wait only if its gap is no more than this
#: share of its length: a short scrap of a broken outline is no loop of its own.
OWN_GAP = 0.5


def trace(link: Ints) -> tuple[list[list[int]], list[list[int]]]:
    """Walk links into closed loops and open chains.

    Parameters
    ----------
    link : (m, 2) int array
        Pairs of nodes; a node of a closed surface is in two links.

    Returns
    -------
    loops, chains : lists of node lists
        Every link is in one of them, once; the first node of a loop is not repeated. A
        chain may come in two, from its middle to either end.
    """
    joined: dict[int, list[int]] = {}
    for number, (a, b) in enumerate(link.tolist()):
        joined.setdefault(a, []).append(number)
        joined.setdefault(b, []).append(number)
    free = set(range(len(link)))
    loops: list[list[int]] = []
    chains: list[list[int]] = []
    for start in joined:
        while (walk := _walk(start, link, joined, free))[1:]:
            if walk[0] == walk[-1]:
                loops.append(walk[:-1])
            else:
                chains.append(walk)
    return loops, chains


def _walk(start: int, link: Ints, joined: dict[int, list[int]], free: set[int]) -> list[int]:
    """Follow free links from a node until none is left or the start is reached again."""
    walk = [start]
    while True:
        number = next((n for n in joined[walk[-1]] if n in free), None)
        if number is None:
            return walk
        free.remove(number)
        a, b = link[number]
        walk.append(int(b if a == walk[-1] else a))
        if walk[-1] == start:
            return walk


def close_chains(chains: list[Floats]) -> tuple[list[Floats], tuple[float, ...]]:
    """Close open chains with straight lines, nearest ends first.

    Parameters
    ----------
    chains : list of (k, 2) float arrays, mm
        Points along each chain.

    Returns
    -------
    loops : list of (k, 2) float arrays, mm
    gaps : tuple of float, mm
        Length of every line that was added, none shorter than rounding.
    """
    chains = list(chains)
    loops: list[Floats] = []
    gaps: list[float] = []
    while chains:
        gap, one, other, turn_one, turn_other = _nearest_ends(chains)
        gaps.append(gap)
        if one == other:
            loops.append(chains.pop(one))
            continue
        second, first = chains.pop(other), chains.pop(one)  # other > one
        parts = (first[::-1] if turn_one else first), (second[::-1] if turn_other else second)
        chains.append(np.concatenate(parts))
    return loops, tuple(gap for gap in gaps if gap > 0.0)


def _nearest_ends(chains: list[Floats]) -> tuple[float, int, int, bool, bool]:
    """Length, the two chains (first < second or equal), and whether to turn each round."""
    count = len(chains)
    heads = np.array([chain[0] for chain in chains])
    tails = np.array([chain[-1] for chain in chains])
    own = np.linalg.norm(heads - tails, axis=1)
    length = np.array([np.linalg.norm(np.diff(c, axis=0), axis=1).sum() for c in chains])
    own_allowed = (own <= OWN_GAP * length) | (count == 1)
    options = []
    for turn_one, left in ((False, tails), (True, heads)):
        for turn_other, right in ((False, heads), (True, tails)):
            apart = np.linalg.norm(left[:, None] - right[None], axis=2)
            apart[np.tril_indices(count)] = np.inf
            at = int(apart.argmin())
            options.append((float(apart.flat[at]), at // count, at % count, turn_one, turn_other))
    best = int(np.where(own_allowed, own, np.inf).argmin())
    if own_allowed[best]:
        options.append((float(own[best]), best, best, False, False))
    return min(options)
