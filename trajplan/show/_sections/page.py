"""Page of a section drawing: scale, places of everything, in mm of paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.show._sections.paper import MM_PER_POINT, lanes, text_width, wrap
from trajplan.show._words.cross import lay_cross

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trajplan.arrays import Floats, Vec3
    from trajplan.show._sections.cut import Frame
    from trajplan.show._sections.dims import Dimension
    from trajplan.show._sections.section import Section
    from trajplan.show._words.cross import Cross

__all__ = [
    "CAUTION_SIZE",
    "CROSS_SIZE",
    "KEY_SIZE",
    "LABEL_SIZE",
    "LEADING",
    "MARGIN",
    "NOTE_SIZE",
    "TITLE_SIZE",
    "WIDTH",
    "Page",
    "Placed",
    "cross_of",
    "page",
    "window_of",
]

#: mm, width of the page: fits the print area of A4 and of Letter.
WIDTH = 180.0
MARGIN = 5.0
#: mm, longest picture of the bone on the page. Its height follows, so that both sections of a
#: screw come out at one scale.
PICTURE = 160.0
#: Scales to choose from, paper to bone.
SCALES = (5.0, 4.0, 3.5, 3.0, 2.5, 2.0, 1.5, 1.0, 0.75, 0.5, 0.25, 0.1)
#: mm of bone shown beyond head and tip.
BEYOND = 4.0
#: Half the height of the picture, at most, as a share of its length.
SHOWN = 0.36
#: Points: sizes of text.
TITLE_SIZE = 12.5
LABEL_SIZE, NOTE_SIZE, KEY_SIZE, CAUTION_SIZE, CROSS_SIZE = 9.5, 8.5, 8.5, 6.5, 8.0
#: mm, arms of the orientation cross.
CROSS_ARM = 7.0
#: mm: from one dimension line to the next; between labels of one line.
LANE, LABEL_GAP = 7.0, 2.5
#: Lines of text stand this much apart, as a share of their size.
LEADING = 1.45


@dataclass(frozen=True, slots=True)
class Placed:
    """A dimension with its place on the page, mm of paper."""

    dimension: Dimension
    start: float
    end: float
    line: float  # height of the dimension line
    middle: float  # of the label


@dataclass(frozen=True, slots=True)
class Page:
    """Places on a page, mm of paper from its lower left corner."""

    width: float
    height: float
    scale: float  # paper to bone
    window: tuple[float, float, float, float]  # mm of bone: depth and offset, low and high
    axis: tuple[float, float]  # of depth 0 and offset 0
    title: tuple[tuple[str, float], ...]  # text and base line
    notes: tuple[tuple[str, float], ...]  # text and base line
    placed: tuple[Placed, ...]
    key: float  # top of the key
    foot: float  # base line of the scale bar
    cautions: tuple[tuple[str, float], ...]
    cross: Cross | None = None
    cross_at: tuple[float, float] = (0.0, 0.0)  # its middle

    def at(self, points: Floats) -> Floats:
        """Places of points of the section, (n, 2) mm of bone to mm of paper."""
        places: Floats = self.scale * points + np.array(self.axis)
        return places


def page(section: Section, key_rows: int, *, cautions: bool = True) -> Page:
    """Lay out a section drawing.

    Parameters
    ----------
    section : Section
        What is to be drawn.
    key_rows : int
        Rows of the key.
    cautions : bool
        Whether the page carries the cautions itself: one that stands on a page which does need not.

    Returns
    -------
    Page
    """
    window = window_of(section)
    long, high = window[1] - window[0], window[3] - window[2]
    scale = next((s for s in SCALES if s * long <= PICTURE), SCALES[-1])
    zero = (WIDTH - scale * long) / 2.0 - scale * window[0]
    above = _in_lanes([d for d in section.dimensions if d.of == "bone"], zero, scale)
    below = _in_lanes([d for d in section.dimensions if d.of == "screw"], zero, scale)
    said = wrap(CAUTION_TEXT, CAUTION_SIZE, WIDTH - 2 * MARGIN) if cautions else []
    cross = cross_of(section.frame, section.ways)
    beside = WIDTH - 3 * MARGIN - (cross.box.right - cross.box.left)
    notes = [
        line
        for text in (section.view + ".", *section.notes)
        for line in wrap(text, NOTE_SIZE, beside)
    ]
    y = MARGIN
    caution_lines, y = _upwards(said, CAUTION_SIZE, y)
    foot = y + 3.0
    key = foot + 7.0 + key_rows * LEADING * KEY_SIZE * MM_PER_POINT
    low = key + 4.0 + LANE * _count(below)
    axis = low + scale * high / 2.0
    top = low + scale * high
    below_notes = top + LANE * _count(above) + 5.0
    title = wrap(section.title, TITLE_SIZE, beside, "bold")
    lines = len(notes) * NOTE_SIZE + len(title) * TITLE_SIZE
    free = (cross.box.high - cross.box.low) - lines * LEADING * MM_PER_POINT - 2.0
    note_lines, y = _upwards(notes, NOTE_SIZE, below_notes + max(free, 0.0))
    title_lines, y = _upwards(title, TITLE_SIZE, y + 2.0)
    return Page(
        width=WIDTH,
        height=y + MARGIN / 2.0,
        scale=scale,
        window=window,
        axis=(zero, axis),
        title=title_lines,
        notes=note_lines,
        placed=tuple(
            [_placed(item, top + 2.0 + LANE * lane) for item, lane in above]
            + [_placed(item, low - LANE * (lane + 1)) for item, lane in below]
        ),
        key=key,
        foot=foot,
        cautions=caution_lines,
        cross=cross,
        cross_at=(WIDTH - MARGIN - cross.box.right, y - cross.box.high),
    )


def cross_of(frame: Frame, ways: Sequence[tuple[str, Vec3]]) -> Cross:
    """Lay out the orientation cross of a section.

    Parameters
    ----------
    frame : Frame
        Plane of the section.
    ways : sequence of (str, (3,) float array)
        Words and unit vectors, as from `arms`.

    Returns
    -------
    Cross
        mm of paper.
    """
    letter = CROSS_SIZE * MM_PER_POINT
    axes = np.stack([frame.along, frame.up, np.cross(frame.along, frame.up)])
    return lay_cross(
        ways, axes, CROSS_ARM, letter, lambda text: text_width(text, CROSS_SIZE, "bold")
    )


def window_of(section: Section) -> tuple[float, float, float, float]:
    """Part of the section that is shown: head to tip, and the bone round it.

    Parameters
    ----------
    section : Section
        What is to be drawn.

    Returns
    -------
    tuple of four floats, mm of bone
        Depth low and high, offset low and high.
    """
    ends = [edge for part in section.outline.values() for edge in part.bounds[::2]]
    ends += [edge for d in section.dimensions for edge in (d.start, d.end)]
    low, high = min(ends, default=0.0) - BEYOND, max(ends, default=0.0) + BEYOND
    widest = max((part.bounds[3] for part in section.outline.values()), default=0.0) + BEYOND
    _, bone_low, _, bone_high = section.bone.bounds
    reach = max(-bone_low, bone_high) + BEYOND / 2.0
    half = max(widest, min(reach, SHOWN * (high - low)))
    return low, high, -half, half


_Item = tuple["Dimension", float, float, float]


def _in_lanes(
    dimensions: Sequence[Dimension], zero: float, scale: float
) -> list[tuple[_Item, int]]:
    """Dimensions with their lanes, short ones nearest to the bone."""
    items: list[_Item] = []
    spans = []
    for dimension in sorted(dimensions, key=lambda d: (d.length, d.start)):
        start, end = zero + scale * dimension.start, zero + scale * dimension.end
        half = text_width(dimension.label, LABEL_SIZE) / 2.0
        middle = min(max((start + end) / 2.0, MARGIN + half), WIDTH - MARGIN - half)
        items.append((dimension, start, end, middle))
        spans.append((min(start, middle - half), max(end, middle + half)))
    return list(zip(items, lanes(spans, LABEL_GAP), strict=True))


def _placed(item: _Item, line: float) -> Placed:
    dimension, start, end, middle = item
    return Placed(dimension, start, end, line, middle)


def _count(laned: Sequence[tuple[_Item, int]]) -> int:
    return 1 + max((lane for _, lane in laned), default=-1)


def _upwards(
    lines: Sequence[str], size: float, low: float
) -> tuple[tuple[tuple[str, float], ...], float]:
    """Base lines of a paragraph whose last line stands lowest, and where it ends above."""
    step = LEADING * size * MM_PER_POINT
    last = len(lines) - 1
    return tuple((text, low + step * (last - i)) for i, text in enumerate(lines)), low + step * len(
        lines
    )
