"""The list of items in a window, or in a picture file."""

from __future__ import annotations

import importlib
import io
import os
import sys
from typing import TYPE_CHECKING

from trajplan.errors import OutputError
from trajplan.files import write_bytes_atomic
from trajplan.show._stage import Words, stage
from trajplan.show._vtk import quiet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from trajplan.show._item import Item

__all__ = ["need_display", "save_shot", "show_window"]


def show_window(
    items: Sequence[Item], title: str, findings_text: str, *, verdict: str = "", frame: str = ""
) -> None:
    """Open a window and return when it is closed.

    Parameters
    ----------
    items : sequence of Item
        What to draw, as from `scene`.
    title : str
        Title of the plan.
    findings_text : str
        Words beside the picture, as from `findings_text`.
    verdict : str
        Verdict of the plan.
    frame : str
        Label of the frame, such as ``LPS``; names the orientation axes.

    Raises
    ------
    OutputError
        If there is no display, pyvista is missing, or there is nothing to draw.
    """
    need_display()
    import pyvista as pv

    with quiet():
        plotter = stage(items, Words(title, verdict, findings_text, frame), off_screen=False)
        if not pv.OFF_SCREEN and "EGL" in type(plotter.render_window).__name__:
            plotter.close()  # the display that is named does not answer
            raise _no_display()
        plotter.show(title=f"trajplan: {title}" if title else "trajplan")


def need_display() -> None:
    """Refuse to go on where no window can open.

    Asked before VTK is, some builds of which end the whole process instead.

    Raises
    ------
    OutputError
        If there is no display, or pyvista is missing.
    """
    _need_pyvista()
    import pyvista as pv

    shown = not sys.platform.startswith("linux") or os.environ.get("DISPLAY")
    if not (shown or pv.OFF_SCREEN):
        raise _no_display()


def save_shot(
    items: Sequence[Item],
    path: Path,
    title: str = "",
    findings_text: str = "",
    *,
    verdict: str = "",
    frame: str = "",
) -> None:
    """Draw the same picture without a window into a PNG file of 1600 by 1000 pixels.

    Parameters
    ----------
    items : sequence of Item
        What to draw, as from `scene`.
    path : Path
        The file; written whole or not at all.
    title, findings_text, verdict, frame : str
        As for `show_window`.

    Raises
    ------
    OutputError
        If pyvista is missing, the file cannot be written, or there is nothing to draw.
    """
    _need_pyvista()
    from PIL import Image

    with quiet():
        plotter = stage(items, Words(title, verdict, findings_text, frame), off_screen=True)
        pixels = plotter.screenshot(return_img=True)
        plotter.close()
    content = io.BytesIO()
    Image.fromarray(pixels).save(content, "PNG", optimize=True)
    write_bytes_atomic(path, content.getvalue())


def _need_pyvista() -> None:
    try:
        importlib.import_module("pyvista")
    except ImportError as error:
        raise OutputError(
            f"pictures need pyvista, which cannot be loaded ({error})",
            remedy="install it with: pip install pyvista",
        ) from None


def _no_display() -> OutputError:
    return OutputError("no display was found", remedy="use --shot FILE.png")
