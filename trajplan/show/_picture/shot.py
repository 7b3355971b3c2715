"""A picture of items in a file."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from trajplan.errors import OutputError
from trajplan.show._picture.panes import write_png
from trajplan.show._picture.stage import Words, stage
from trajplan.show._picture.vtk import quiet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from trajplan.arrays import Vec3
    from trajplan.show._items.item import Item

__all__ = ["need_pyvista", "save_shot"]


def save_shot(
    items: Sequence[Item],
    path: Path,
    title: str = "",
    findings_text: str = "",
    *,
    verdict: str = "",
    side: str = "",
    arms: Sequence[tuple[str, Vec3]] = (),
) -> None:
    """Draw the same picture without a window into a PNG file of 1600 by 1000 pixels.

    Parameters
    ----------
    items : sequence of Item
        What to draw, as from `scene`.
    path : Path
        The file; written whole or not at all.
    title : str
        Title of the plan.
    findings_text : str
        Words beside the picture, as from `findings_text`.
    verdict : str
        Verdict of the plan.
    side : str
        Side of the body and frame, as from `side_text`.
    arms : sequence of (str, (3,) float array)
        Labels and unit vectors of the orientation cross; none: no cross is drawn.

    Raises
    ------
    OutputError
        If pyvista is missing, the file cannot be written, or there is nothing to draw.
    """
    need_pyvista()
    with quiet():
        words = Words(title, verdict, findings_text, side, arms)
        write_png(stage(items, words, off_screen=True), path)


def need_pyvista() -> None:
    """Refuse to go on where nothing can be drawn.

    Raises
    ------
    OutputError
        If pyvista is missing.
    """
    try:
        importlib.import_module("pyvista")
    except ImportError as error:
        raise OutputError(
            f"pictures need pyvista, which cannot be loaded ({error})",
            remedy="in the folder of trajplan, install it with: pip install -e .",
        ) from None
