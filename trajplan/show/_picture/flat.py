"""A pane that words are laid out in, a pixel a unit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pyvista as pv

__all__ = ["flat_camera"]


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
