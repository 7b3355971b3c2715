"""A pane that words are laid out in, a pixel a unit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pyvista as pv

__all__ = ["fit_flat", "flat_camera"]


def flat_camera(plotter: pv.Plotter, size: Any) -> None:  # noqa: ANN401 - anything that numpy takes
    """Look at the active pane's plane so that a unit is a pixel as it is laid out.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    size : (2,) array_like, pixels
        Width and height of the pane.
    """
    width, height = size
    plotter.view_xy()
    plotter.camera.parallel_projection = True
    plotter.camera.focal_point = (width / 2, height / 2, 0.0)
    plotter.camera.position = (width / 2, height / 2, 100.0)
    plotter.camera.parallel_scale = height / 2


def fit_flat(
    pane: pv.Renderer, size: tuple[float, float], words: Iterable[pv.Label], letter: float
) -> float:
    """Bring a pane that was laid out for one size to the size that it has now.

    Parameters
    ----------
    pane : pyvista.Renderer
        The pane.
    size : (float, float), pixels
        Width and height that it was laid out for.
    words : iterable of pyvista.Label
        Words in it.
    letter : float, pixels
        Size of their letters as they were laid out.

    Returns
    -------
    float
        Pixels of now for one of the layout.
    """
    wide, high = (float(value) for value in pane.GetSize())
    share = max(min(wide / size[0], high / size[1]), 1e-3)
    pane.camera.parallel_scale = high / 2.0 / share
    for word in words:
        word.prop.font_size = max(round(letter * share), 1)
    return share
