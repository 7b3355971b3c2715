"""What is known of a surface before it is trusted, and what to be wary of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._audit_words import FLAT_SHEET, Counts, cautions_of
from trajplan.bone._edges import edge_table
from trajplan.bone._heights import MIN_HEIGHT, heights_and_areas
from trajplan.bone._nesting import CANAL_SHARE
from trajplan.bone._types import Audit
from trajplan.bone._weld import weld

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3
    from trajplan.bone._edges import EdgeTable
from trajplan.bone._types import Shells, Surface

__all__ = ["audit"]


def audit(
    surface: Surface, shells: Shells, edges: EdgeTable | None = None, *, files: int = 1
) -> Audit:
    """Audit a surface. Nothing is repaired: the cautions say what was found.

    Parameters
    ----------
    surface : Surface
        The surface.
    shells : Shells
        Its shells, as from `find_shells`.
    edges : EdgeTable, optional
        Its edges, where they are known already.
    files : int
        Files that it was put together from: so many bodies were meant, one each.

    Returns
    -------
    Audit
        Box and area cover vertices that faces use. The volume is NaN where a shell is
        open or its faces disagree on which side is out. A closed sheet that encloses next
        to nothing does not count as closed.
    """
    edges = edges or edge_table(surface.faces)
    sizes = edges.counts()
    copy = shells.copies()
    heights, areas = heights_and_areas(surface.vertices, surface.faces)
    duplicate, touching = _duplicates(surface.faces, shells.of_face)
    hollow = shells.closed & (shells.nesting % 2 == 1) & ~copy
    outer = (shells.nesting == 0) & ~copy
    around = np.bincount(shells.body, np.where(outer, shells.volume, 0.0))[shells.body]
    canal = hollow & (shells.volume >= CANAL_SHARE * around)
    sheet = outer & _flat(shells, areas)
    closed = bool((shells.closed & ~sheet).all())
    counts = Counts(
        open_edges=int((sizes == 1).sum()),
        cracked=_cracked(surface, edges),
        crowded_edges=int((sizes > 2).sum()),
        unwound=int((~shells.wound).sum()),
        inverted=int((shells.closed & shells.wound & (shells.outward < 0) & ~hollow & ~copy).sum()),
        degenerate=int((heights <= MIN_HEIGHT).sum()),
        repeated=duplicate - touching,
        touching=touching,
        bodies=int(outer.sum()),
        files=files,
        hollows=int(hollow.sum()),
        pores=int((hollow & ~canal).sum()),
        copies=int(copy.sum()),
        thin=_thinnest_wall(shells, canal, areas),
        step=surface.step,
        poking=int((shells.pokes() & ~copy).sum()),
        loose=int((~shells.closed & (shells.nesting > 0)).sum()),
        sheets=int(sheet.sum()),
    )
    low, high = _box(surface)
    return Audit(
        faces=len(surface.faces),
        vertices=len(surface.vertices),
        merged=surface.merged,
        step=surface.step,
        low=low,
        high=high,
        volume=_volume(shells),
        area=float(areas.sum()),
        closed=closed,
        open_edges=counts.open_edges,
        crowded_edges=counts.crowded_edges,
        wound=bool(shells.wound.all()),
        inverted=counts.inverted,
        degenerate=counts.degenerate,
        duplicate=duplicate,
        bodies=counts.bodies,
        hollows=counts.hollows,
        canal=bool(canal.any()),
        cautions=cautions_of(counts, closed=closed),
    )


def _box(surface: Surface) -> tuple[Vec3, Vec3]:
    points = surface.vertices[surface.used()]
    low, high = points.min(axis=0), points.max(axis=0)
    freeze(low, high)
    return low, high


def _duplicates(faces: Ints, of_face: Ints) -> tuple[int, int]:
    """Faces with the corners of an earlier one, and how many of them touch another shell."""
    corners = np.sort(faces, axis=1)
    order = np.lexsort(corners.T)
    again: Bools = (np.diff(corners[order], axis=0) == 0).all(axis=1)
    other = np.diff(of_face[order]) != 0
    return int(again.sum()), int((again & other).sum())


def _cracked(surface: Surface, edges: EdgeTable) -> int:
    """Vertices at open edges that lie near another one without being the same."""
    border = edges.counts() == 1
    if not border.any():
        return 0
    ends = np.unique([edges.low[border], edges.high[border]])
    return int((weld(surface.vertices, ends) != np.arange(len(surface.vertices))).sum())


def _thinnest_wall(shells: Shells, canal: Bools, areas: Floats) -> float:
    """Least mean wall, mm, round a hollow that is most of its body; infinite if there is none."""
    thin = float("inf")
    area = np.bincount(shells.of_face, areas)
    for inner in np.flatnonzero(canal & (shells.nesting == 1)):
        outer = int(np.flatnonzero((shells.body == shells.body[inner]) & (shells.nesting == 0))[0])
        thin = min(thin, float((shells.volume[outer] - shells.volume[inner]) / area[outer]))
    return thin


def _flat(shells: Shells, areas: Floats) -> Bools:
    """Closed shells that enclose next to nothing: their mean thickness is volume over half area."""
    half = 0.5 * np.bincount(shells.of_face, areas, minlength=len(shells.closed))
    flat: Bools = shells.closed & shells.wound & (shells.volume < FLAT_SHEET * half)
    return flat


def _volume(shells: Shells) -> float:
    if not (shells.closed & shells.wound).all():
        return float("nan")
    signed = np.where(shells.nesting % 2 == 0, shells.volume, -shells.volume)
    return float(signed[~shells.copies()].sum())
