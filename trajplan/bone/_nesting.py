"""Which shells lie around which shells."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.arrays import offsets_of
from trajplan.bone._heights import heights_and_areas
from trajplan.bone._libigl import WindingTree
from trajplan.bone._orient import as_if_clean

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints
    from trajplan.bone._types import Surface

__all__ = ["CANAL_SHARE", "Nesting", "boxes_of", "faces_of_shells", "nest", "some_middles"]

#: Faces of the inner shell whose middles are tried, spread over it. One would do for
#: shells that do not meet; many tell a piece pressed half into another from a hollow.
SAMPLES = 256
#: Faces without which a shell holds nothing: a tetrahedron that lacks one.
FEWEST = 3
#: Points whose winding number is no further from 0.5 may lie on the outer shell, and say
#: nothing of shells that touch.
DECISIVE = 0.4
#: Share of a closed shell's area that must lie inside another for it to be a hollow of that one
#: which comes through its wall, as a canal does where the cortex is thin: two fragments pressed
#: into one another share less (assumption).
MOSTLY = 0.75
#: Share of its body's volume below which a hollow is a pore or a stray piece, and no canal:
#: marrow fills a tenth of a long bone and more (from memory).
CANAL_SHARE = 0.01
#: Share of its own length by which such a shell may stand out of the other's box.
STANDS_OUT = 0.1


class Nesting(NamedTuple):
    """How shells lie in one another."""

    depth: Ints  # (s,) number of shells around each
    body: Ints  # (s,) number, 0.., of the outermost shell that each belongs to
    poking: Bools  # (s,) lies in another by far the most, and comes through its wall
    unsure: Bools  # (s,) most of it seems to lie in another, but holes leave that open


def nest(surface: Surface, of_face: Ints, sound: Bools, original: Ints, volume: Floats) -> Nesting:
    """Count the shells around each shell.

    Parameters
    ----------
    surface : Surface
        The surface.
    of_face : (f,) int array
        Shell of each face.
    sound : (s,) bool array
        Which shells are closed and consistently wound; the others are judged by what they
        would be if their normals agreed and their holes were small.
    original : (s,) int array
        Shell that each one is a copy of, itself where it is none.
    volume : (s,) float array, mm³
        What each shell encloses.

    Returns
    -------
    Nesting
        Shells that touch or cross do not count as around one another, nor do copies, but a
        closed shell does that lies in another by far the most and is more than a pore. A copy
        has the number of its original.
    """
    count = len(sound)
    nesting, (poking, unsure) = (
        np.zeros(count, dtype=np.int64),
        np.zeros((2, count), dtype=np.bool_),
    )
    if count == 1:
        return Nesting(nesting, np.zeros(1, dtype=np.int64), poking, unsure)
    rows = faces_of_shells(of_face)
    low, high = boxes_of(surface, rows)
    size = high - low
    spare = STANDS_OUT * np.where(sound[:, None], size, 0.0)
    single = original == np.arange(count)
    held_by: dict[int, Ints] = {}
    for outer in np.flatnonzero(single & (np.bincount(of_face) >= FEWEST)):
        inside = single & (low + spare >= low[outer]).all(axis=1)
        inside &= (high - spare <= high[outer]).all(axis=1)
        inside[outer] = False
        inner = np.flatnonzero(inside)
        if len(inner):
            faces = surface.faces[rows[outer]]
            if not sound[outer]:
                faces = as_if_clean(surface.vertices, faces)
            around = surface.vertices[faces]
            share, leans = _share_within(around, [_spread(surface, rows[shell]) for shell in inner])
            within = (low >= low[outer]).all(axis=1) & (high <= high[outer]).all(axis=1)
            whole = within[inner] & (share == 1.0)
            canal = sound[inner] & sound[outer] & (volume[inner] >= CANAL_SHARE * volume[outer])
            held = whole | (canal & (share >= MOSTLY))
            poking[inner[held & ~whole]] = True
            nesting[inner[held]] += 1
            doubted = ~held & leans & ~(sound[inner] & sound[outer])
            unsure[inner[doubted]] = True
            held_by[int(outer)] = inner[held | doubted]
    body = _bodies(nesting, held_by, original)
    return Nesting(nesting[original], body, poking[original], unsure[original])


def _bodies(nesting: Ints, held_by: dict[int, Ints], original: Ints) -> Ints:
    root = np.arange(len(nesting))
    for outer, held in reversed(held_by.items()):
        if nesting[outer] == 0:
            root[held] = outer
    body: Ints = np.unique(root[original], return_inverse=True)[1].astype(np.int64)
    return body


def faces_of_shells(of_face: Ints) -> list[Ints]:
    """Faces of each shell.

    Parameters
    ----------
    of_face : (f,) int array
        Shell of each face.

    Returns
    -------
    list of (k,) int array
    """
    return np.split(np.argsort(of_face, kind="stable"), np.cumsum(np.bincount(of_face))[:-1])


def boxes_of(surface: Surface, rows: list[Ints]) -> tuple[Floats, Floats]:
    """Bounding box of each shell.

    Parameters
    ----------
    surface : Surface
        The surface.
    rows : list of (k,) int array
        Faces of each shell.

    Returns
    -------
    low, high : (s, 3) float arrays, mm
    """
    corners = surface.vertices[surface.faces[np.concatenate(rows)]]
    start = offsets_of([len(some) for some in rows])[:-1]
    low: Floats = np.minimum.reduceat(corners.min(axis=1), start)
    high: Floats = np.maximum.reduceat(corners.max(axis=1), start)
    return low, high


def some_middles(surface: Surface, rows: Ints) -> Floats:
    """Middles of some faces, evenly spread over their order.

    Parameters
    ----------
    surface : Surface
        The surface.
    rows : (k,) int array
        Faces of one shell.

    Returns
    -------
    (n, 3) float array, mm
        Of at most 2 * `SAMPLES` faces.
    """
    some = rows[:: max(1, len(rows) // SAMPLES)]
    middles: Floats = surface.vertices[surface.faces[some]].mean(axis=1)
    return middles


def _spread(surface: Surface, rows: Ints) -> tuple[Floats, Floats]:
    """Middles of some faces, and the area of each."""
    some = rows[:: max(1, len(rows) // SAMPLES)]
    areas = heights_and_areas(surface.vertices, surface.faces[some])[1]
    return some_middles(surface, rows), areas


def _share_within(around: Floats, parts: list[tuple[Floats, Floats]]) -> tuple[Floats, Bools]:
    """Share of each part's area that lies within triangles ``(f, 3, 3)``, and whether most does.

    The share is of what can be told, NaN where nothing can; the other answer counts all.
    """
    soup = np.arange(3 * len(around)).reshape(-1, 3)
    tree = WindingTree(around.reshape(-1, 3), soup)
    beyond = np.abs(tree.number(np.concatenate([middles for middles, _ in parts]))) - 0.5
    area = np.concatenate([areas for _, areas in parts])
    start = offsets_of([len(areas) for _, areas in parts])[:-1]
    inside, outside, leans, back = (
        np.add.reduceat(np.where(side, area, 0.0), start)
        for side in (beyond > DECISIVE, beyond < -DECISIVE, beyond > 0.0, beyond <= 0.0)
    )
    with np.errstate(invalid="ignore"):
        share: Floats = inside / (inside + outside)
    return share, leans > back
