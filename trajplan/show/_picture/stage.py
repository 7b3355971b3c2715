"""The picture's panes: close view, words, key, whole bone, and the cautions below them."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trajplan.cautions import CAUTION_TEXT
from trajplan.show._items.palette import VERDICT_COLOURS
from trajplan.show._picture.camera import overview, side_view
from trajplan.show._picture.compass import compass
from trajplan.show._picture.draw import INK, draw, look, scale_bar
from trajplan.show._picture.labels import labels
from trajplan.show._picture.legend import entries, legend
from trajplan.show._picture.panes import PAPER, SIZE, heading

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pyvista as pv

    from trajplan.arrays import Floats, Vec3
    from trajplan.show._items.item import Item
    from trajplan.show._picture.camera import View

__all__ = ["Words", "stage"]

#: Letters to a line of the title, at the widest that an ordinary one is.
TITLE_WIDE = 31
MAIN_SHARE = 0.72  # of the width, for the close view
ROW_SHARES = (0.53, 0.11, 0.31, 0.05)  # of the height: words, key, whole bone; cautions
MAIN_ASPECT = MAIN_SHARE * SIZE[0] / (sum(ROW_SHARES[:3]) * SIZE[1])
SIDE_WIDTH = (1 - MAIN_SHARE) * SIZE[0]


@dataclass(frozen=True, slots=True)
class Words:
    """What is written into the picture."""

    title: str
    verdict: str
    findings: str
    side: str = ""  # of the body, and the frame
    arms: Sequence[tuple[str, Vec3]] = ()  # directions of the orientation cross; none: no cross


def stage(items: Sequence[Item], words: Words, *, off_screen: bool) -> pv.Plotter:
    """Set everything up, ready to be shown or shot.

    Parameters
    ----------
    items : sequence of Item
        What to draw.
    words : Words
        What to write.
    off_screen : bool
        Whether to draw without a window.

    Returns
    -------
    pyvista.Plotter

    Raises
    ------
    OutputError
        If there is nothing to look at.
    """
    view = side_view(items, MAIN_ASPECT)
    import pyvista as pv

    plotter = pv.Plotter(
        off_screen=off_screen or None,
        shape=(4, 2),
        groups=[(slice(0, 3), 0), (3, slice(0, 2))],
        col_weights=[MAIN_SHARE, 1 - MAIN_SHARE],
        row_weights=list(ROW_SHARES),
        window_size=list(SIZE),
        border_color="#bbbbbb",
    )
    plotter.set_background(PAPER, all_renderers=True)
    plotter.subplot(0, 0)
    _close_view(plotter, items, view, words.arms)
    plotter.subplot(0, 1)
    _words(plotter, words)
    plotter.subplot(1, 1)
    legend(plotter, entries(items), (SIDE_WIDTH, ROW_SHARES[1] * SIZE[1]))
    plotter.subplot(2, 1)
    _whole_bone(plotter, items, view)
    plotter.subplot(3, 0)
    caution = "\n".join(textwrap.wrap(CAUTION_TEXT, 210))
    plotter.add_text(caution, position=(14, 8), font_size=7, font="arial", color=INK)
    plotter.subplot(0, 0)
    return plotter


def _close_view(
    plotter: pv.Plotter, items: Sequence[Item], view: View, arms: Sequence[tuple[str, Vec3]]
) -> None:
    plotter.enable_anti_aliasing("ssaa")
    draw(plotter, items)
    labels(plotter, items, view, (MAIN_SHARE * SIZE[0], sum(ROW_SHARES[:3]) * SIZE[1]))
    look(plotter, view)
    scale_bar(plotter, view, MAIN_ASPECT)
    if arms:
        compass(plotter, view, MAIN_ASPECT, arms)


def _words(plotter: pv.Plotter, words: Words) -> None:
    top = ROW_SHARES[0] * SIZE[1] - 14
    title = "\n".join(textwrap.wrap(words.title, TITLE_WIDE)[:3])
    heading(plotter, title, top, 12)
    top -= 26 * (title.count("\n") + 1)
    if words.verdict:
        colour = VERDICT_COLOURS.get(words.verdict, INK)
        heading(plotter, f"Verdict: {words.verdict}", top, 12, colour)
        top -= 36
    if words.side:
        heading(plotter, words.side, top, 9)
        top -= 30
    heading(plotter, words.findings, top, 8)


def _whole_bone(plotter: pv.Plotter, items: Sequence[Item], view: View) -> None:
    import pyvista as pv

    plotter.enable_anti_aliasing("ssaa")
    draw(plotter, [item for item in items if item.role not in ("axis", "mark")])
    whole = overview(items, view, SIDE_WIDTH / (ROW_SHARES[2] * SIZE[1]))
    look(plotter, whole)
    half = view.half_height * np.array([MAIN_ASPECT, 1.0])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]]) * half
    edge = view.focus + corners @ np.stack([view.right, view.up]) + whole.reach * view.toward
    if _holds(whole, SIDE_WIDTH / (ROW_SHARES[2] * SIZE[1]), edge):
        frame = pv.lines_from_points(edge)
        plotter.add_mesh(frame, color="#666666", line_width=2.0, lighting=False)
    plotter.add_text("whole bone", position=(14, 10), font_size=7, font="arial", color=INK)


def _holds(view: View, aspect: float, points: Floats) -> bool:
    """Whether all points lie in a picture: half a frame would say nothing."""
    across = np.abs((points - view.focus) @ np.stack([view.right, view.up], axis=1))
    half = view.half_height * np.array([aspect, 1.0])
    return bool((across < half).all())
