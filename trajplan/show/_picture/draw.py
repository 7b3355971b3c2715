"""Items, labels and a scale bar into one pane of a pyvista plotter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.show._items.palette import COLOURS, NO_CONTACT, PRESSURE_MAP, WORDS
from trajplan.show._items.pressure import pressure_scale

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import pyvista as pv

    from trajplan.show._items.item import Item
    from trajplan.show._picture.camera import View

__all__ = [
    "INK",
    "METAL",
    "PRESSURE",
    "PRESSURE_TITLE",
    "WIDTHS",
    "colour_bar",
    "draw",
    "look",
    "mesh_of",
    "pressure_legend",
    "pressure_table",
    "scale_bar",
    "thin_line",
]

INK = "#111111"

#: Widths of lines by role, in pixels.
WIDTHS = {"outline": 6.0, "axis": 2.0, "mark": 5.0, "distance": 3.0}
#: Name of the legend of contact pressure and of its title. VTK would write the title across the
#: bar's frame, so that the bar has an empty one.
PRESSURE, PRESSURE_TITLE = " ", "title of pressure"
#: Roles that shine.
METAL = ("head", "plate")
#: Edges sharper than this are drawn as edges, degrees.
SHARP = 30.0
#: The camera stands this far away, mm: lines of sight are parallel anyway, but outlines are
#: found as if seen from the camera, and must not depend on where it stands.
FAR = 1e5
#: Lengths that a scale bar may have, mm.
BARS = (1, 2, 5, 10, 20, 50, 100, 200)
#: The bar takes up this share of half the picture's width at the most.
BAR_SHARE = 0.4


def draw(plotter: pv.Plotter, items: Iterable[Item]) -> None:
    """Draw every item but the labels.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane to draw in active.
    items : iterable of Item
        What to draw.
    """
    items = list(items)
    scale = pressure_scale(items)
    table = None if scale is None else pressure_table(scale)
    for item in items:
        if item.role in WORDS:
            continue
        if item.values is not None:
            plotter.add_mesh(
                mesh_of(item), scalars="MPa", cmap=table, show_scalar_bar=False, lighting=False
            )
        elif item.faces is None:
            thin_line(plotter, item.points, item.colour, WIDTHS.get(item.role, 2.0))
        elif item.opacity < 1.0:
            _see_through(plotter, item)
        else:
            shine = {"specular": 0.5, "specular_power": 25} if item.role in METAL else {}
            plotter.add_mesh(
                _mesh(item), color=item.colour, smooth_shading=True, split_sharp_edges=True, **shine
            )
    if table is not None:
        pressure_legend(plotter, table)


def pressure_table(scale: float) -> pv.LookupTable:
    """Colours of contact pressure.

    Parameters
    ----------
    scale : float, MPa
        Upper end.

    Returns
    -------
    pyvista.LookupTable
        Where nothing presses, the colour is `NO_CONTACT`.
    """
    import pyvista as pv

    table = pv.LookupTable(PRESSURE_MAP, scalar_range=(0.0, scale))
    table.below_range_color = NO_CONTACT
    return table


def colour_bar(
    plotter: pv.Plotter,
    table: pv.LookupTable,
    name: str,
    fmt: str,
    below: str,
    place: tuple[float, float, float, float],
) -> None:
    """Draw what the colours of a table mean.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    table : pyvista.LookupTable
        The colours.
    name : str
        Of the bar, by which it is found again.
    fmt : str
        Of its numbers.
    below : str
        What the colour below the range means.
    place : tuple of four floats
        Left, bottom, width and height in shares of the pane.
    """
    import pyvista as pv

    # With a table alone the bar is drawn from 0 to 1, whatever the table's range.
    mapper = pv.DataSetMapper()
    mapper.lookup_table = table
    mapper.scalar_range = table.scalar_range
    left, bottom, width, height = place
    plotter.add_scalar_bar(
        name,
        mapper=mapper,
        n_labels=3,
        fmt=fmt,
        vertical=True,
        width=width,
        height=height,
        position_x=left,
        position_y=bottom,
        label_font_size=16,
        color=INK,
        font_family="arial",
        below_label=below,
        outline=True,
    )


def pressure_legend(plotter: pv.Plotter, table: pv.LookupTable) -> None:
    """Draw the legend of contact pressure at the left of the active pane.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    table : pyvista.LookupTable
        Its colours.
    """
    colour_bar(plotter, table, PRESSURE, "%.3g", "no contact", (0.09, 0.68, 0.05, 0.24))
    plotter.add_text(
        "Contact pressure, MPa",
        position=(0.015, 0.945),
        viewport=True,
        font_size=8,
        font="arial",
        color=INK,
        name=PRESSURE_TITLE,
        render=False,
    )


def mesh_of(item: Item) -> pv.PolyData:
    """Mesh of an item, with normals to be shaded by and the values of its faces.

    Parameters
    ----------
    item : Item
        A line or triangles.

    Returns
    -------
    pyvista.PolyData
    """
    import pyvista as pv

    if item.faces is None:
        return pv.lines_from_points(item.points)
    mesh = _mesh(item)
    if item.values is not None:
        mesh.cell_data["MPa"] = np.where(item.values > 0.0, item.values, -1.0)  # below the scale
        return mesh
    return mesh.compute_normals(
        cell_normals=False,
        split_vertices=item.opacity == 1.0,
        feature_angle=SHARP,
        consistent_normals=False,
    )


def _mesh(item: Item) -> pv.PolyData:
    import pyvista as pv

    return pv.PolyData.from_regular_faces(item.points, item.faces)


def thin_line(plotter: pv.Plotter, points: np.ndarray, colour: str, width: float) -> None:
    """Draw a line of a constant width.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active.
    points : (n, 3) float array, mm
        Its corners.
    colour : str
        Its colour.
    width : float, pixels
        Its width.
    """
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


def scale_bar(plotter: pv.Plotter, view: View, aspect: float | Callable[[], float]) -> None:
    """Draw a bar of round length at the lower left; place and length follow the camera.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane active, its camera in parallel projection.
    view : View
        The view.
    aspect : float or callable
        Width of the pane over its height; asked anew with each move of the camera.
    """
    import pyvista as pv

    shape = np.array([[0.0, 0.02], [0.0, 0.0], [1.0, 0.0], [1.0, 0.02]])
    bar = pv.lines_from_points(np.zeros((4, 3)))
    word = pv.Label("", size=22)
    word.prop.color, word.prop.bold, word.prop.font_family = INK, True, "arial"
    word.prop.justification_horizontal = "center"
    word.prop.background_color, word.prop.background_opacity = "#ffffff", 0.6
    camera = plotter.camera

    def place(*_: object) -> None:
        up, toward = np.array(camera.up), -np.array(camera.direction)
        right = np.cross(up, toward)
        half = camera.parallel_scale
        wide = half * (aspect() if callable(aspect) else aspect)
        length = max((b for b in BARS if b <= BAR_SHARE * wide), default=BARS[0])
        corner = np.array(camera.focal_point) - 0.94 * wide * right - 0.82 * half * up
        corner = corner + view.reach * toward
        size = np.array([length, half])
        bar.points = corner + (shape * size) @ np.stack([right, up])
        word.input = f"{length} mm"
        word.position = corner + length / 2 * right + 0.03 * half * up

    place()
    camera.AddObserver("ModifiedEvent", place)
    for colour, width in (("#ffffff", 11.0), (INK, 5.0)):  # to be read on whatever lies behind
        plotter.add_mesh(bar, color=colour, line_width=width, lighting=False)
    plotter.add_actor(word, reset_camera=False, render=False)
