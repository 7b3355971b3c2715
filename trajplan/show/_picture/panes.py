"""What pictures in panes share: words on top, panes side by side, cautions below; the PNG file."""

from __future__ import annotations

import io
import textwrap
from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.files import write_bytes_atomic
from trajplan.show._picture.draw import INK

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import pyvista as pv

__all__ = ["PAPER", "SIZE", "heading", "panes", "write_png"]

SIZE = (1600, 1000)  # pixels of a whole picture
PAPER = "#ffffff"
#: Letters to a line of the cautions below a picture.
CAUTIONS_WIDE = 210


def panes(columns: int, rows: Sequence[float]) -> pv.Plotter:
    """Make an empty picture: a row for words, one of panes, one with the cautions.

    Parameters
    ----------
    columns : int
        Panes side by side.
    rows : sequence of three floats
        Shares of the height: words, panes, cautions.

    Returns
    -------
    pyvista.Plotter
        The row of words is active.
    """
    import pyvista as pv

    plotter = pv.Plotter(
        off_screen=True,
        shape=(3, columns),
        groups=[(0, slice(0, columns)), (2, slice(0, columns))],
        row_weights=list(rows),
        window_size=list(SIZE),
        border_color="#bbbbbb",
    )
    plotter.set_background(PAPER, all_renderers=True)
    plotter.subplot(2, 0)
    caution = "\n".join(textwrap.wrap(CAUTION_TEXT, CAUTIONS_WIDE))
    plotter.add_text(caution, position=(14, 10), font_size=7, font="arial", color=INK)
    plotter.subplot(0, 0)
    return plotter


def heading(
    plotter: pv.Plotter, text: str, top: float, size: int, colour: str = INK, *, left: float = 14.0
) -> pv.Text:
    """Write words whose upper edge stands at a height of the active pane.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    text : str
        The words.
    top : float
        Pixels from the pane's lower edge.
    size : int
        Of the letters.
    colour : str
        Of the letters.
    left : float
        Pixels from the pane's left edge.

    Returns
    -------
    pyvista.Text
    """
    actor = plotter.add_text(text, position=(left, top), font_size=size, font="arial", color=colour)
    actor.prop.justification_vertical = "top"
    return actor


def write_png(plotter: pv.Plotter, path: Path) -> None:
    """Write what a plotter shows into a PNG file, and close the plotter.

    Parameters
    ----------
    plotter : pyvista.Plotter
        Off screen.
    path : Path
        The file; written whole or not at all.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    from PIL import Image

    pixels = plotter.screenshot(return_img=True)
    plotter.close()
    content = io.BytesIO()
    Image.fromarray(pixels).save(content, "PNG", optimize=True)
    write_bytes_atomic(path, content.getvalue())
