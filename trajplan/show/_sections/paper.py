"""Text on paper: how wide it is, where it breaks, and lanes in which nothing overlaps."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["FONT", "MM_PER_POINT", "lanes", "text_width", "wrap"]

#: A typographic point, exactly 1/72 inch.
MM_PER_POINT = 25.4 / 72.0
#: The font that matplotlib brings along, so that a drawing is the same on every machine.
FONT = "DejaVu Sans"


@lru_cache(maxsize=2048)
def text_width(text: str, size: float, weight: str = "normal") -> float:
    """Width of a line of text.

    Parameters
    ----------
    text : str
        One line.
    size : float, points
        Size of the font.
    weight : str
        "normal" or "bold".

    Returns
    -------
    float, mm
    """
    from matplotlib.font_manager import FontProperties
    from matplotlib.path import Path
    from matplotlib.textpath import TextPath

    font = FontProperties(family=FONT, weight=weight)
    literal = text.replace("$", r"\$")  # names from a case are text, never formulas
    path = TextPath((0.0, 0.0), literal, size=size, prop=font)
    drawn = path.vertices[path.codes != Path.CLOSEPOLY, 0]  # a closing row holds no point
    return float(np.ptp(drawn)) * MM_PER_POINT if len(drawn) else 0.0


def wrap(text: str, size: float, width: float, weight: str = "normal") -> list[str]:
    """Break text into lines at spaces.

    Parameters
    ----------
    text : str
        Any text.
    size : float, points
        Size of the font.
    width : float, mm
        Greatest width of a line; a single longer word keeps a line of its own.
    weight : str
        "normal" or "bold".

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, weight) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def lanes(spans: Sequence[tuple[float, float]], gap: float) -> list[int]:
    """Lane of each span, so that no two spans of a lane come nearer than a gap.

    Parameters
    ----------
    spans : sequence of (low, high)
        Stretches of a line, in the order in which they choose.
    gap : float
        Least distance within a lane.

    Returns
    -------
    list of int
        From 0; each span takes the lowest lane that has room.
    """
    taken: list[list[tuple[float, float]]] = []
    chosen = []
    for span in spans:
        lane = next((i for i, held in enumerate(taken) if _free(span, held, gap)), len(taken))
        if lane == len(taken):
            taken.append([])
        taken[lane].append(span)
        chosen.append(lane)
    return chosen


def _free(span: tuple[float, float], held: Iterable[tuple[float, float]], gap: float) -> bool:
    return all(span[0] >= high + gap or span[1] <= low - gap for low, high in held)
