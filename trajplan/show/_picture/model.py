"""A picture of meshes made of labels: from the front and from the patient's left."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import FRAGMENTS
from trajplan.show._picture.camera import framed
from trajplan.show._picture.draw import INK, look, scale_bar
from trajplan.show._picture.labels import fitted, write
from trajplan.show._picture.panes import SIZE, heading, panes, write_png
from trajplan.show._picture.shot import need_pyvista
from trajplan.show._picture.vtk import quiet

if TYPE_CHECKING:
    from pathlib import Path

    import pyvista as pv

    from trajplan.arrays import Vec3
    from trajplan.files import ModelFile
    from trajplan.planner import Model

__all__ = ["save_model_shot"]

ROWS = (0.16, 0.78, 0.06)  # of the height: words, pictures, cautions
#: Where to look from in LPS, and what stands left and right in the picture.
UP = np.array([0.0, 0.0, 1.0])
VIEWS = (
    ("From the front: the patient's right is at the left", np.array([0.0, -1.0, 0.0])),
    ("From the patient's left: the front is at the left", np.array([1.0, 0.0, 0.0])),
)
#: Of a view's height or width, kept free round what is drawn, and for names beside it.
AIR = (0.04, 0.3)


def save_model_shot(model: Model, record: ModelFile, path: Path) -> None:
    """Draw the meshes of a model into a PNG file.

    Parameters
    ----------
    model : Model
        The model.
    record : ModelFile
        Its record.
    path : Path
        The file; written whole or not at all.

    Raises
    ------
    OutputError
        If pyvista is missing, or the file cannot be written.
    """
    need_pyvista()
    with quiet():
        write_png(_stage(model, record), path)


def _stage(model: Model, record: ModelFile) -> pv.Plotter:
    plotter = panes(len(VIEWS), ROWS)
    heading(plotter, f"Model of {record.labels.name}", 146, 13)
    heading(plotter, "\n".join(_words(record)), 112, 8)
    for column, (words, toward) in enumerate(VIEWS):
        plotter.subplot(1, column)
        _draw(plotter, model, words, toward)
    return plotter


def _words(record: ModelFile) -> list[str]:
    made = record.meshing
    bodies = "; ".join(f"{mesh.name}: {mesh.volume / 1e3:.2f} cm³" for mesh in record.meshes)
    error = (
        f"Expected error of the surface: {made.error_mean:.2f} mm on average, 95 of 100 places "
        f"within {made.error_95:.2f} mm"
    )
    placed = [
        f"{mesh.name} cut off at the {', '.join(mesh.cut)}" for mesh in record.meshes if mesh.cut
    ]
    return [
        part for text in (bodies, error, "; ".join(placed)) for part in textwrap.wrap(text, 190)
    ][:6]


def _draw(plotter: pv.Plotter, model: Model, words: str, toward: Vec3) -> None:
    import pyvista as pv

    plotter.enable_anti_aliasing("ssaa")
    for number, mesh in enumerate(model.meshes):
        body = pv.PolyData.from_regular_faces(mesh.vertices, mesh.faces)
        colour = FRAGMENTS[number % len(FRAGMENTS)]
        plotter.add_mesh(body, color=colour, smooth_shading=True, split_sharp_edges=True)
    every = np.concatenate([mesh.vertices for mesh in model.meshes])
    aspect = SIZE[0] / 2.0 / (ROWS[1] * SIZE[1])
    view = framed(every, every, toward, UP, aspect, AIR)
    look(plotter, view)
    scale_bar(plotter, view, aspect)
    plotter.add_text(
        words, position=(0.03, 0.95), viewport=True, font_size=10, font="arial", color=INK
    )
    right = np.cross(UP, toward)
    edge = float((every @ right).max()) + 2.0
    front = float((every @ toward).max())
    places = [
        edge * right + float(mesh.vertices[:, 2].mean()) * UP + front * toward
        for mesh in model.meshes
    ]
    names = [fitted(mesh.name, 18) for mesh in model.meshes]
    for place, name in zip(places, names, strict=True):
        write(plotter, np.asarray(place), name, size=15, side="left")
