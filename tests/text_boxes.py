"""Boxes of all words that a plotter writes, for tests that none lies over another."""

from itertools import combinations

import numpy as np
import pyvista as pv


def text_boxes(plotter):
    """Words of each pane with the pixels that they take up, from the window's lower left."""
    found = []
    for pane in plotter.renderers:
        for actor in pane.GetViewProps():
            if isinstance(actor, pv.Text) and actor.input.strip() and actor.GetVisibility():
                box = [0.0] * 4
                actor.GetBoundingBox(pane, box)
                x, y = _place(actor, pane)
                found.append((pane, actor.input, (x + box[0], y + box[2], x + box[1], y + box[3])))
    return found


def _place(actor, pane):
    if isinstance(actor, pv.Label):
        pane.SetWorldPoint(*actor.position, 1.0)
        pane.WorldToDisplay()
        return np.array(pane.GetDisplayPoint()[:2])
    return np.array(actor.GetPositionCoordinate().GetComputedDisplayValue(pane), dtype=float)


def overlaps(plotter):
    """Pairs of words that lie over one another by more than a pixel."""
    return [
        (one[1], other[1])
        for one, other in combinations(text_boxes(plotter), 2)
        if min(one[2][2], other[2][2]) - max(one[2][0], other[2][0]) > 1.0
        and min(one[2][3], other[2][3]) - max(one[2][1], other[2][1]) > 1.0
    ]


def cut_off(plotter):
    """Words that run out of their pane by more than a pixel."""
    found = []
    for pane, text, box in text_boxes(plotter):
        low = np.array(pane.GetOrigin(), dtype=float)
        high = low + np.array(pane.GetSize(), dtype=float)
        if (np.array(box[:2]) < low - 1.0).any() or (np.array(box[2:]) > high + 1.0).any():
            found.append(text)
    return found
