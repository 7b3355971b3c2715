"""What is known of a surface before it is trusted, and what to be wary of."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._edges import edge_table
from trajplan.bone._types import Audit

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Floats, Ints, Vec3
    from trajplan.bone._types import Shells, Surface

__all__ = ["audit"]

#: A face whose height is less has no area worth the name, mm: float32 files place the
#: corners of a bone no better than some 1e-5 mm.
MIN_HEIGHT = 1e-6


class _Counts(NamedTuple):
    """What the cautions speak of."""

    open_edges: int
    crowded_edges: int
    unwound: int
    inverted: int
    degenerate: int
    repeated: int
    touching: int
    bodies: int
    hollows: int
    loose: int


def audit(surface: Surface, shells: Shells) -> Audit:
    """Audit a surface. Nothing is repaired: the cautions say what was found.

    Parameters
    ----------
    surface : Surface
        The surface.
    shells : Shells
        Its shells, as from `find_shells`.

    Returns
    -------
    Audit
        Box and area cover vertices that faces use. The volume is NaN where a shell is
        open or its faces disagree on which side is out.
    """
    sizes = edge_table(surface.faces).counts()
    heights, areas = _heights_and_areas(surface)
    duplicate, touching = _duplicates(surface.faces, shells.of_face)
    hollow = shells.closed & (shells.nesting % 2 == 1)
    counts = _Counts(
        open_edges=int((sizes == 1).sum()),
        crowded_edges=int((sizes > 2).sum()),
        unwound=int((~shells.wound).sum()),
        inverted=int((shells.closed & shells.wound & (shells.outward < 0) & ~hollow).sum()),
        degenerate=int((heights <= MIN_HEIGHT).sum()),
        repeated=duplicate - touching,
        touching=touching,
        bodies=int((shells.nesting == 0).sum()),
        hollows=int(hollow.sum()),
        loose=int((~shells.closed & (shells.nesting > 0)).sum()),
    )
    low, high = _box(surface)
    return Audit(
        faces=len(surface.faces),
        vertices=len(surface.vertices),
        merged=surface.merged,
        low=low,
        high=high,
        volume=_volume(shells),
        area=float(areas.sum()),
        closed=bool(shells.closed.all()),
        open_edges=counts.open_edges,
        crowded_edges=counts.crowded_edges,
        wound=bool(shells.wound.all()),
        inverted=counts.inverted,
        degenerate=counts.degenerate,
        duplicate=duplicate,
        bodies=counts.bodies,
        hollows=counts.hollows,
        canal=counts.hollows > 0,
        cautions=_cautions(counts, closed=bool(shells.closed.all())),
    )


def _box(surface: Surface) -> tuple[Vec3, Vec3]:
    used = np.zeros(len(surface.vertices), dtype=bool)
    used[surface.faces] = True
    points = surface.vertices[used]
    low, high = points.min(axis=0), points.max(axis=0)
    freeze(low, high)
    return low, high


def _heights_and_areas(surface: Surface) -> tuple[Floats, Floats]:
    """Least height (mm) and area (mm²) of every face."""
    a, b, c = (surface.vertices[column] for column in surface.faces.T)
    double = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    longest = np.sqrt(
        np.max([np.einsum("ij,ij->i", side, side) for side in (b - a, c - b, a - c)], axis=0)
    )
    heights: Floats = double / np.where(longest > 0.0, longest, 1.0)
    return heights, 0.5 * double


def _duplicates(faces: Ints, of_face: Ints) -> tuple[int, int]:
    """Faces with the corners of an earlier one, and how many of them touch another shell."""
    corners = np.sort(faces, axis=1)
    order = np.lexsort(corners.T)
    again: Bools = (np.diff(corners[order], axis=0) == 0).all(axis=1)
    other = np.diff(of_face[order]) != 0
    return int(again.sum()), int((again & other).sum())


def _volume(shells: Shells) -> float:
    if not (shells.closed & shells.wound).all():
        return float("nan")
    return float(np.where(shells.nesting % 2 == 0, shells.volume, -shells.volume).sum())


def _many(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def _cautions(counts: _Counts, *, closed: bool) -> tuple[str, ...]:
    return tuple(_flaws(counts, closed=closed) + _structure(counts))


def _flaws(counts: _Counts, *, closed: bool) -> list[str]:
    """Sentences on what is wrong with the triangles."""
    found = []
    if counts.open_edges:
        edges = _many(counts.open_edges, "open edge", "open edges")
        found.append(
            f"{edges}: the surface is not closed, so inside and outside are estimated near the gaps"
        )
    if counts.crowded_edges:
        edges = _many(counts.crowded_edges, "edge", "edges")
        meaning = "bodies touch there and were told apart by their normals"
        if not closed:
            meaning = "where bodies touch and where they end may be read wrongly there"
        found.append(f"{edges} with three faces or more: {meaning}")
    if counts.unwound:
        pieces = _many(counts.unwound, "piece has", "pieces have")
        found.append(
            f"{pieces} faces that disagree on which side is out: no volume is given, and "
            "inside and outside are decided without the normals"
        )
    if counts.inverted:
        pieces = _many(counts.inverted, "closed piece has", "closed pieces have")
        found.append(f"{pieces} normals that point into the bone: it is read as solid all the same")
    if counts.degenerate:
        found.append(f"{_many(counts.degenerate, 'face has', 'faces have')} no area")
    if counts.repeated:
        found.append(f"{_many(counts.repeated, 'face lies', 'faces lie')} on another one")
    return found


def _structure(counts: _Counts) -> list[str]:
    """Sentences on what the pieces are taken for."""
    found = []
    if counts.touching:
        faces = _many(counts.touching, "whole face", "whole faces")
        found.append(f"bodies touch in {faces}: each is kept as a body of its own")
    if counts.bodies > 1:
        found.append(
            f"{counts.bodies} separate bodies: each is taken for a fragment of its own, so "
            "remove stray pieces"
        )
    if counts.loose:
        pieces = _many(counts.loose, "open piece lies", "open pieces lie")
        found.append(f"{pieces} inside a closed one and is not taken for a canal")
    if not counts.hollows:
        found.append("no canal is modelled: cortex thickness is an assumption of the case")
    return found
