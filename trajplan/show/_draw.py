"""Items, labels and a scale bar into one pane of a pyvista plotter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._camera import heads_right, label_places
from trajplan.show._palette import COLOURS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pyvista as pv

    from trajplan.show._camera import View
    from trajplan.show._item import Item

__all__ = ["INK", "draw", "labels", "look", "scale_bar", "write"]

INK = "#111111"

#: Widths of lines by role, in pixels.
WIDTHS = {"outline": 6.0, "axis": 2.0, "mark": 5.0}
#: The camera stands this far away, mm: lines of sight are parallel anyway, but outlines are
#: found as if seen from the camera, and must not depend on where it stands.
FAR = 1e5
#: Lengths that a scale bar may have, mm.
BARS = (1, 2, 5, 10, 20, 50, 100, 200)


def draw(plotter: pv.Plotter, items: Iterable[Item]) -> None:
    """Draw every item but the labels.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane to draw in active.
    items : iterable of Item
        What to draw.
    """
    for item in items:
        if item.role == "label":
            continue
        if item.faces is None:
            _line(plotter, item.points, item.colour, WIDTHS.get(item.role, 2.0))
        elif item.opacity < 1.0:
            _see_through(plotter, item)
        else:
            shine = {"specular": 0.5, "specular_power": 25} if item.role == "head" else {}
            plotter.add_mesh(
                _mesh(item), color=item.colour, smooth_shading=True, split_sharp_edges=True, **shine
            )


def _mesh(item: Item) -> pv.PolyData:
    import pyvista as pv

    return pv.PolyData.from_regular_faces(item.points, item.faces)


def _line(plotter: pv.Plotter, points: np.ndarray, colour: str, width: float) -> None:
    import pyvista as pv

    mesh = pv.lines_from_points(points)
    plotter.add_mesh(mesh, color=colour, line_width=width, lighting=False)


def _see_through(plotter: pv.Plotter, item: Item) -> None:
    """Draw far side first, near side second: not every renderer can sort depths itself."""
    mesh = _mesh(item)
    for hidden in ("front", "back"):
        plotter.add_mesh(
            mesh, color=item.colour, opacity=item.opacity, culling=hidden, smooth_shading=True
        )
    if item.role in ("bone", "hollow"):
        plotter.add_silhouette(mesh, color=COLOURS["hollow"], line_width=4.0)


def look(plotter: pv.Plotter, view: View) -> None:
    """Set the active pane's camera.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    view : View
        The view.
    """
    camera = plotter.camera
    camera.focal_point = view.focus
    camera.position = view.focus + FAR * view.toward
    camera.up = view.up
    camera.parallel_projection = True
    camera.parallel_scale = view.half_height
    plotter.renderer.camera_set = True
    plotter.renderer.reset_camera_clipping_range()


def labels(plotter: pv.Plotter, items: Sequence[Item], view: View, aspect: float) -> None:
    """Write each label at the edge next to its head, with a thin line to the head.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    items : sequence of Item
        What is drawn; those of role ``label`` count.
    view : View
        The view.
    aspect : float
        Width of the pane over its height.
    """
    named = [item for item in items if item.role == "label"]
    if not named:
        return
    anchors = np.vstack([item.points[:1] for item in named])
    at_right = heads_right(items, view.right)
    places = label_places(view, anchors, at_right, aspect)
    for ends in np.stack([places, anchors], axis=1):
        _line(plotter, ends, INK, 2.0)
    texts = np.array([f" {item.label} " for item in named])
    for side, chosen in (("right", ~at_right), ("left", at_right)):  # as the text is justified
        if chosen.any():
            write(plotter, places[chosen], texts[chosen].tolist(), size=20, side=side)


def scale_bar(plotter: pv.Plotter, view: View, aspect: float) -> None:
    """Draw a bar of round length at the lower left; it follows the camera.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active, its camera in parallel projection.
    view : View
        The view.
    aspect : float
        Width of the pane over its height.
    """
    import pyvista as pv

    length = max((b for b in BARS if b <= 0.4 * view.half_height * aspect), default=BARS[0])
    shape = np.array([[0.0, 0.02], [0.0, 0.0], [1.0, 0.0], [1.0, 0.02]])
    bar = pv.lines_from_points(np.zeros((4, 3)))
    middle = pv.PolyData(np.zeros((1, 3)))
    camera = plotter.camera

    def place(*_: object) -> None:
        up, toward = np.array(camera.up), -np.array(camera.direction)
        right = np.cross(up, toward)
        half = camera.parallel_scale
        corner = np.array(camera.focal_point) - 0.94 * half * aspect * right - 0.82 * half * up
        corner = corner + view.reach * toward
        size = np.array([length, half])
        bar.points = corner + (shape * size) @ np.stack([right, up])
        middle.points = corner + np.array([[length / 2, 0.025 * half]]) @ np.stack([right, up])

    place()
    camera.AddObserver("ModifiedEvent", place)
    plotter.add_mesh(bar, color=INK, line_width=5.0, lighting=False)
    write(plotter, middle, [f"{length} mm"], size=16, side="center", above=True)


def write(
    plotter: pv.Plotter,
    places: np.ndarray | pv.PolyData,
    texts: Sequence[str],
    *,
    size: int,
    side: str,
    above: bool = False,
) -> None:
    plotter.add_point_labels(
        places,
        list(texts),
        always_visible=True,
        show_points=False,
        shape=None,
        text_color=INK,
        font_family="arial",
        font_size=size,
        bold=True,
        justification_horizontal=side,
        justification_vertical="bottom" if above else "center",
    )
