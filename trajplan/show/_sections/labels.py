"""Where the names of the fragments fit inside a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Point, box

from trajplan.show._sections.paper import MM_PER_POINT, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shapely.geometry.base import BaseGeometry

    from trajplan.arrays import Floats
    from trajplan.show._sections.section import Section

__all__ = ["fragment_labels"]

#: mm of bone: half the width of the line that parts the fragments; a fracture surface may end
#: this much short of the bone's outline.
PARTING = 0.4
#: mm of bone: how near to entry or exit a piece of bone must be to be the fragment there.
NEAR = 0.5
#: mm of bone: spacing of the places that are tried for a label.
GRID = 1.0
#: mm of paper: kept free round a label.
ROOM = 1.5
#: mm of bone: beyond this, more distance from everything else makes a place no better.
CLEAR = 3.0


def fragment_labels(
    section: Section, window: tuple[float, float, float, float], scale: float, size: float
) -> Iterator[tuple[str, tuple[float, float]]]:
    """Name near and far fragment where the section shows them apart and a name fits.

    Parameters
    ----------
    section : Section
        What is drawn.
    window : tuple of four floats, mm of bone
        Depth low and high, offset low and high, of what is shown.
    scale : float
        Paper to bone.
    size : float, points
        Size of the text.

    Yields
    ------
    text : str
    place : (depth, offset), mm of bone
        Its middle.
    """
    low, high, bottom, top = window
    split = shapely.difference(section.bone, section.fracture.buffer(PARTING))
    pieces = shapely.get_parts(split)
    near, far = (_piece_at(pieces, Point(depth, 0.0)) for depth in section.ends)
    if near is None or far is None or near == far:
        return
    taken = [*section.outline.values(), *section.holes.values(), section.fracture]
    taken += [lines for _, _, lines in section.surfaces]
    taken += [_landmark_box(name, at, scale, size) for name, at in section.landmarks]
    for text, number in (("near fragment", near), ("far fragment", far)):
        half = np.array([text_width(text, size), size * MM_PER_POINT]) / 2.0 + ROOM
        others = np.delete(pieces, number)
        kept_free = shapely.union_all([*taken, *others])
        place = _place(pieces[number], kept_free, box(low, bottom, high, top), half / scale)
        if place is not None:
            yield text, place


def _landmark_box(name: str, at: tuple[float, float], scale: float, size: float) -> BaseGeometry:
    """What a landmark and its name over it take up, mm of bone."""
    half, high = text_width(name, size) / 2.0 / scale, (3.0 + size * MM_PER_POINT) / scale
    return box(at[0] - half, at[1] - 2.0 / scale, at[0] + half, at[1] + high)


def _piece_at(pieces: BaseGeometry, point: Point) -> int | None:
    """Piece of bone at an end of the axis."""
    apart = shapely.distance(pieces, point)
    return int(apart.argmin()) if len(apart) and apart.min() < NEAR else None


def _place(
    piece: BaseGeometry, kept_free: BaseGeometry, window: BaseGeometry, half: Floats
) -> tuple[float, float] | None:
    """Place in a piece of bone where a label covers most of that piece and nothing else."""
    low, bottom, high, top = shapely.intersection(piece, window).bounds
    x, y = np.meshgrid(np.arange(low, high, GRID), np.arange(bottom, top, GRID))
    boxes = shapely.box(x - half[0], y - half[1], x + half[0], y + half[1])
    shapely.prepare([piece, kept_free, window])
    fits = shapely.contains_xy(piece, x, y) & shapely.contains(window, boxes)
    fits &= shapely.disjoint(kept_free, boxes)
    if not fits.any():
        return None
    covered = shapely.area(shapely.intersection(boxes, piece))
    clear = np.minimum(shapely.distance(boxes, kept_free), CLEAR)
    best = np.unravel_index(np.where(fits, covered + clear, -1.0).argmax(), x.shape)
    return float(x[best]), float(y[best])
