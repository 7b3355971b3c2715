"""Words and lines round the picture of a section: dimensions, title, key, scale, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._items.palette import COLOURS
from trajplan.show._sections.labels import fragment_labels
from trajplan.show._sections.page import (
    CAUTION_SIZE,
    CROSS_SIZE,
    KEY_SIZE,
    LABEL_SIZE,
    LEADING,
    MARGIN,
    NOTE_SIZE,
    TITLE_SIZE,
    WIDTH,
)
from trajplan.show._sections.paper import MM_PER_POINT, text_width

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from matplotlib.axes import Axes

    from trajplan.show._sections.page import Page, Placed
    from trajplan.show._sections.section import Section

__all__ = ["INK", "Swatch", "draw_cross", "key", "key_rows", "scale_bar", "write", "write_words"]

INK, PALE = "#111111", "#777777"
#: mm of paper: a swatch of the key, the gap before its words, the room after them.
SWATCH, SWATCH_GAP, KEY_GAP = 8.0, 1.5, 5.0
#: mm of paper: base line of a label over its dimension line.
LIFT = 1.5
#: mm of bone: lengths of scale bar to choose from, and its least length on paper.
BARS, LEAST_BAR = (5.0, 10.0, 20.0, 50.0, 100.0), 15.0
#: Above everything that is drawn of the section itself.
OVER = 50


@dataclass(frozen=True, slots=True)
class Swatch:
    """A part of the key: how something is drawn, and what it is."""

    words: str
    style: Mapping[str, Any]


def key_rows(swatches: Sequence[Swatch]) -> list[list[tuple[Swatch, float]]]:
    """Break the key into rows.

    Parameters
    ----------
    swatches : sequence of Swatch
        What the key explains.

    Returns
    -------
    list of rows, each a list of (Swatch, place from the left in mm of paper)
    """
    rows: list[list[tuple[Swatch, float]]] = [[]]
    place = MARGIN
    for swatch in swatches:
        width = SWATCH + SWATCH_GAP + text_width(swatch.words, KEY_SIZE)
        if rows[-1] and place + width > WIDTH - MARGIN:
            rows.append([])
            place = MARGIN
        rows[-1].append((swatch, place))
        place += width + KEY_GAP
    return rows


def write_words(
    axes: Axes, sheet: Page, section: Section, rows: Sequence[Sequence[tuple[Swatch, float]]]
) -> None:
    """Write all that stands in and round the picture.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Covers the page, in mm of paper.
    sheet : Page
        Where things stand.
    section : Section
        What is drawn.
    rows : sequence of rows
        The key, as from `key_rows`.
    """
    low, high, _, _ = sheet.window
    ends = sheet.at(np.array([[low, 0.0], [high, 0.0]]))
    axes.plot(*ends.T, color=INK, linewidth=0.6, linestyle=(0, (14, 3, 2, 3)), zorder=OVER - 1)
    paper = {"facecolor": "white", "edgecolor": PALE, "linewidth": 0.5, "pad": 1.5}
    for text, place in fragment_labels(section, sheet.window, sheet.scale, LABEL_SIZE):
        x, y = sheet.at(np.array(place))
        write(axes, x, y, text, LABEL_SIZE, ha="center", va="center", bbox=paper)
    for placed in sheet.placed:
        _dimension(axes, sheet, placed)
    for name, point in section.landmarks:
        _landmark(axes, sheet, name, point)
    draw_cross(axes, sheet)
    for text, base in sheet.title:
        write(axes, MARGIN, base, text, TITLE_SIZE, weight="bold")
    for text, base in sheet.notes:
        write(axes, MARGIN, base, text, NOTE_SIZE)
    key(axes, sheet, rows)
    scale_bar(axes, sheet)
    for text, base in sheet.cautions:
        write(axes, MARGIN, base, text, CAUTION_SIZE)


def write(axes: Axes, x: float, y: float, text: str, size: float, **style: Any) -> None:  # noqa: ANN401 - text properties of matplotlib
    """Write text as it is: a dollar sign starts no formula.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Covers the page, in mm of paper.
    x, y : float, mm of paper
        Where the text stands.
    text : str
        One line.
    size : float, points
        Size of the letters.
    **style
        Properties of matplotlib's text.
    """
    style = {"color": INK, "zorder": OVER + 2, "parse_math": False, **style}
    axes.text(x, y, text, fontsize=size, **style)


def draw_cross(axes: Axes, sheet: Page) -> None:
    """Draw the orientation cross: arms towards the reader thick, arms away thin and grey.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Covers the page, in mm of paper.
    sheet : Page
        Where it stands.
    """
    if sheet.cross is None:
        return
    x, y = sheet.cross_at
    for arm in sheet.cross.arms:
        colour, width = (PALE, 0.8) if arm.away else (INK, 1.8)
        axes.plot([x, x + arm.x], [y, y + arm.y], color=colour, linewidth=width, zorder=OVER)
        side = {"start": "left", "middle": "center", "end": "right"}[arm.anchor]
        at = (x + arm.word_x, y + arm.word_y)
        write(axes, *at, arm.word, CROSS_SIZE, ha=side, va="center", weight="bold")
    if sheet.cross.towards:
        place = sheet.cross.place
        at = (x + place.right, y + place.low)
        write(axes, *at, sheet.cross.towards, CROSS_SIZE, ha="right", weight="bold")


def _landmark(axes: Axes, sheet: Page, name: str, point: tuple[float, float]) -> None:
    """A landmark of the case where it lies in the plane, by name; none beside the picture."""
    low, high, bottom, top = sheet.window
    if not (low <= point[0] <= high and bottom <= point[1] <= top):
        return
    x, y = sheet.at(np.array(point))
    axes.plot([x], [y], marker="D", color=COLOURS["landmark"], markersize=5, zorder=OVER + 1)
    paper = {"facecolor": "white", "edgecolor": "none", "pad": 0.5}
    write(axes, x, y + 2.0, name, LABEL_SIZE, ha="center", va="bottom", bbox=paper)


def _dimension(axes: Axes, sheet: Page, placed: Placed) -> None:
    """Line with end strokes, its label over it, and thin lines down to the axis."""
    for x in (placed.start, placed.end):
        reach = placed.line + np.copysign(1.2, placed.line - sheet.axis[1])
        axes.plot([x, x], [sheet.axis[1], reach], color=PALE, linewidth=0.45, zorder=OVER)
    paper = {"facecolor": "white", "edgecolor": "none", "pad": 0.5}
    x, y = placed.middle, placed.line + LIFT
    label = placed.dimension.label
    write(axes, x, y, label, LABEL_SIZE, ha="center", va="baseline", bbox=paper)
    axes.plot(
        [placed.start, placed.end],
        [placed.line] * 2,
        color=INK,
        linewidth=1.0,
        marker=(2, 0, -45),  # a stroke across the end, as drawing offices make it
        markersize=6,
        zorder=OVER + 3,  # over the paper that keeps thin lines out of the label
    )


def key(axes: Axes, sheet: Page, rows: Sequence[Sequence[tuple[Swatch, float]]]) -> None:
    """Draw the key of a page.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Covers the page, in mm of paper.
    sheet : Page
        Where it stands.
    rows : sequence of rows
        As from `key_rows`.
    """
    from matplotlib.patches import Rectangle

    step = LEADING * KEY_SIZE * MM_PER_POINT
    for number, row in enumerate(rows):
        y = sheet.key - step * (number + 1)
        for swatch, x in row:
            if "color" in swatch.style:
                axes.plot([x, x + SWATCH], [y + 1.1, y + 1.1], **swatch.style)
            else:
                axes.add_patch(Rectangle((x, y - 0.2), SWATCH, 2.7, **swatch.style))
            write(axes, x + SWATCH + SWATCH_GAP, y, swatch.words, KEY_SIZE)


def scale_bar(axes: Axes, sheet: Page, words: str = "All lengths in mm along the axis.") -> None:
    """Draw the scale bar of a page.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Covers the page, in mm of paper.
    sheet : Page
        Where it stands, and the scale.
    words : str
        What else is said beside it.
    """
    from matplotlib.patches import Rectangle

    length = next((bar for bar in BARS if bar * sheet.scale >= LEAST_BAR), BARS[-1])
    width, y = length * sheet.scale, sheet.foot
    for left, colour in ((MARGIN, INK), (MARGIN + width / 2.0, "white")):
        bar = Rectangle((left, y), width / 2.0, 1.8, facecolor=colour, edgecolor=INK, linewidth=0.8)
        axes.add_patch(bar)
    ratio = f"{sheet.scale:g} : 1" if sheet.scale >= 1.0 else f"1 : {1.0 / sheet.scale:.3g}"
    said = f"{length:g} mm     Scale {ratio} where this page is {sheet.width:g} mm wide. {words}"
    write(axes, MARGIN + width + 2.0, y, said, KEY_SIZE)
