"""What may be missing of a surface that screws are kept clear of: its holes, and its crumbs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._caps import boundary_loops, fan, hull
from trajplan.bone._heights import heights_and_areas
from trajplan.bone._nesting import faces_of_shells
from trajplan.bone._orient import copies_of_faces
from trajplan.bone._read import as_surface
from trajplan.bone._repair_steps import Draft, fill_holes
from trajplan.bone._shells import find_shells
from trajplan.bone._weld import weld_borders

if TYPE_CHECKING:
    from trajplan.arrays import Floats, Ints
    from trajplan.bone._types import Shells, Surface

__all__ = ["Missing", "missing_of"]

#: Share of a piece that is missing below which it was closed once, and every loop is a hole;
#: above it the longest loop is its rim (assumption: a joint surface that is meant to be open
#: lacks more than this of a ball; a head that is cut at its neck lacks a tenth or more).
ONCE_CLOSED = 0.05
#: Pieces that a joint surface may be made of: the subtalar joint has three (common practice).
FACETS = 3
#: Share of the area that these hold at the least; otherwise the surface is in crumbs
#: (assumption).
WHOLE = 0.9
#: mm; a loop no wider is a crack of the triangles and no hole (assumption: what a segmentation
#: resolves).
CRACK = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Missing:
    """What may have stood where faces are missing."""

    lids: Surface  # over the holes; round all of it where it is in crumbs
    closed: Surface | None  # pieces that were closed once, closed again
    holes: int
    widest: float  # mm across the widest hole; 0 where there is none
    pieces: int
    crumbs: bool

    @property
    def said(self) -> str:
        """What is wrong with the surface, to follow its name."""
        if self.crumbs:
            return f"lies in {self.pieces} pieces"
        many = "a hole" if self.holes == 1 else f"{self.holes} holes, the widest"
        return f"has {many} {self.widest:.0f} mm across"


def missing_of(surface: Surface, *, facets: bool = True) -> Missing | None:
    """Find the holes of a surface, and whether it is in crumbs.

    Parameters
    ----------
    surface : Surface
        A joint surface or a structure; an open patch has a rim, which is no hole.
    facets : bool
        Whether it is a joint surface, which has a rim and consists of few pieces. What else has
        two loops or more, such as a vessel cut off at both ends, was closed once.

    Returns
    -------
    Missing or None
        None where nothing is missing that can be seen. What is missing at the rim cannot be.

    Notes
    -----
    The missing faces lay about the lid of the hole, or in the hull of its loop where it is not
    flat. On a ball, border squared over 4 pi times the area is the share that is missing.
    """
    shells = find_shells(surface)
    areas = heights_and_areas(surface.vertices, surface.faces)[1]
    if facets and _in_crumbs(shells, areas):
        points = surface.vertices[surface.used()]
        whole = as_surface(_soup(hull(points, flat=True)))
        return Missing(whole, whole, 0, 0.0, len(shells.closed), crumbs=True)
    lids, closed, widths = [], [], []
    for number, rows in enumerate(faces_of_shells(shells.of_face)):
        if shells.closed[number]:
            continue
        faces = weld_borders(surface.vertices, surface.faces[rows])
        faces = faces[~copies_of_faces(faces)]
        loops = sorted(boundary_loops(faces), key=lambda loop: -_length(surface, loop))
        border = sum(_length(surface, loop) for loop in loops)
        tube = len(loops) > 1 and not facets
        once_closed = tube or border**2 < ONCE_CLOSED * 4.0 * np.pi * areas[rows].sum()
        holes = [
            loop for loop in (loops if once_closed else loops[1:]) if _width(surface, loop) > CRACK
        ]
        widths += [_width(surface, loop) for loop in holes]
        lids += [part for loop in holes for part in _lid(surface.vertices[loop])]
        if once_closed and holes:
            draft = Draft(surface.vertices, faces, np.arange(1, len(faces) + 1), surface)
            fill_holes(draft)
            closed.append(draft.vertices[draft.faces])
    if not lids:
        return None
    return Missing(
        lids=as_surface(_soup(np.concatenate(lids))),
        closed=as_surface(_soup(np.concatenate(closed))) if closed else None,
        holes=len(widths),
        widest=max(widths),
        pieces=len(shells.closed),
        crumbs=False,
    )


def _in_crumbs(shells: Shells, areas: Floats) -> bool:
    """Whether the largest few pieces are not nearly all of it; copies count once."""
    alone = np.bincount(shells.of_face, areas)[~shells.copies()]
    return bool(np.sort(alone)[::-1][:FACETS].sum() < WHOLE * alone.sum())


def _length(surface: Surface, loop: Ints) -> float:
    points = surface.vertices[loop]
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def _width(surface: Surface, loop: Ints) -> float:
    """Least width of a loop in its plane, mm: what could pass through it."""
    points = surface.vertices[loop]
    spread = points - points.mean(axis=0)
    axes = np.linalg.svd(spread, full_matrices=False)[2]
    return float(np.ptp(spread @ axes[1]))


def _lid(points: Floats) -> tuple[Floats, Floats]:
    return fan(points), hull(points)


def _soup(triangles: Floats) -> tuple[Floats, Ints]:
    return triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3)
