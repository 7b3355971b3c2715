"""Actors of a plotter kept in step with a list of items."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._items.palette import COLOURS
from trajplan.show._items.pressure import pressure_scale
from trajplan.show._picture.draw import (
    INK,
    METAL,
    WIDTHS,
    mesh_of,
    pressure_table,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    import pyvista as pv

    from trajplan.geometry import Plane
    from trajplan.show._items.item import Item
    from trajplan.show._items.palette import Role

__all__ = ["Actors"]

#: Roles that a cut goes through; screws stay whole.
CUT: frozenset[Role] = frozenset({"bone", "hollow", "fracture", "outline", "joint", "avoid"})
#: Faces above which a mesh is thinned out while the picture moves, and cells a side then.
MANY_FACES = 40_000
COARSE_CELLS = 40
#: Pixels, size of the words at a screw's head and at a distance.
LETTERS = 20
#: Pixels, width of the ring by which an end of an axis is held: at rest, and when it is held.
GRIP_WIDTHS = (2.5, 7.0)


@dataclass(slots=True)
class _Drawn:
    """One item as it is drawn."""

    item: Item
    mesh: Any  # pyvista.PolyData; None for a label
    coarse: Any  # the same, thinned out; None where it is small enough
    actors: list[Any]
    outline: Any = None  # silhouette; None where the item has none


class Actors:
    """Draws items, and again only those that changed.

    Parameters
    ----------
    plotter : pyvista.Plotter
        With the pane to draw in active.
    on_scale : callable
        Told the upper end of the colours of pressure, MPa, whenever it changes; None: there are
        none.
    """

    def __init__(self, plotter: pv.Plotter, on_scale: Callable[[float | None], None]) -> None:
        self._plotter = plotter
        self._on_scale = on_scale
        self._drawn: dict[str, _Drawn] = {}
        self._cut: Any = None  # vtkPlane
        self._table: Any = None  # colours of pressure
        self._scale: float | None = None

    def show(self, items: Sequence[Item]) -> None:
        """Draw these items and no others.

        Parameters
        ----------
        items : sequence of Item
            What to draw; names tell items apart, and an item that is the same as before is
            left as it is.
        """
        self._rescale(pressure_scale(items))
        wanted = {item.name for item in items}
        for name in [name for name in self._drawn if name not in wanted]:
            self._drop(name)
        for item in items:
            old = self._drawn.get(item.name)
            if old is not None and _same(old.item, item):
                continue
            if old is not None and _alike(old.item, item):
                self._renew(old, item)
                continue
            if old is not None:
                self._drop(item.name)
            self._add(item)

    def items(self) -> dict[str, Item]:
        """What is drawn, by name.

        Returns
        -------
        dict of str to Item
        """
        return {name: drawn.item for name, drawn in self._drawn.items()}

    def coarse(self, *, on: bool) -> None:
        """Draw large meshes thinned out and their near side alone, as long as the picture moves.

        Parameters
        ----------
        on : bool
            Whether it moves; at rest every face is drawn.
        """
        for drawn in self._drawn.values():
            if drawn.coarse is None:
                continue
            for actor in drawn.actors:
                actor.mapper.SetInputData(drawn.coarse if on else drawn.mesh)
            if len(drawn.actors) > 1:
                drawn.actors[0].visibility = not on  # its far side, seen through the near one
            if drawn.outline is not None:
                drawn.outline.visibility = not on and self._cut is None

    def cut(self, plane: Plane | None) -> None:
        """Cut bone, fracture and obstacles off on the side that a plane's normal points to.

        Parameters
        ----------
        plane : Plane or None
            None to make them whole again.
        """
        self._cut = None
        if plane is not None:
            from vtkmodules.vtkCommonDataModel import vtkPlane

            self._cut = vtkPlane()
            self._cut.SetOrigin(*plane.point)
            self._cut.SetNormal(*-plane.normal)  # what lies ahead of it stays
        for drawn in self._drawn.values():
            self._clip(drawn)

    def _clip(self, drawn: _Drawn) -> None:
        if drawn.item.role not in CUT:
            return
        for actor in drawn.actors:
            actor.mapper.RemoveAllClippingPlanes()
            if self._cut is not None:
                actor.mapper.AddClippingPlane(self._cut)
        if drawn.outline is not None:
            drawn.outline.visibility = self._cut is None

    def _drop(self, name: str) -> None:
        drawn = self._drawn.pop(name)
        for actor in [*drawn.actors, *([drawn.outline] if drawn.outline is not None else [])]:
            self._plotter.remove_actor(actor, render=False)

    def _add(self, item: Item) -> None:
        if item.faces is None and len(item.points) == 1:
            self._drawn[item.name] = _Drawn(item, None, None, [self._word(item)])
            return
        mesh = mesh_of(item)
        drawn = _Drawn(item, mesh, _thinned(mesh), [])
        self._drawn[item.name] = drawn
        if item.faces is None:
            drawn.actors = [self._line(item, mesh)]
        elif item.values is not None:
            drawn.actors = [self._pressed(mesh)]
        else:
            drawn.actors = list(self._solid(item, mesh))
        if item.role in ("bone", "hollow"):
            drawn.outline = self._plotter.add_silhouette(
                mesh, color=COLOURS["hollow"], line_width=3.0
            )
        for actor in [*drawn.actors, *([drawn.outline] if drawn.outline is not None else [])]:
            actor.pickable = False
        self._clip(drawn)

    def _renew(self, old: _Drawn, item: Item) -> None:
        """Give an item's actors new points."""
        old.item = item
        if old.mesh is None:
            old.actors[0].input, old.actors[0].position = item.label, item.points[0]
            return
        old.mesh.copy_from(mesh_of(item))

    def _word(self, item: Item) -> Any:  # noqa: ANN401 - pyvista has no types here
        import pyvista as pv

        label = pv.Label(item.label, position=item.points[0], size=LETTERS)
        label.prop.color, label.prop.bold, label.prop.font_family = INK, True, "arial"
        label.prop.background_color, label.prop.background_opacity = "#ffffff", 0.6
        self._plotter.add_actor(label, reset_camera=False, render=False)
        return label

    def _line(self, item: Item, mesh: Any) -> Any:  # noqa: ANN401 - pyvista has no types here
        held = item.name.endswith("held")
        width = GRIP_WIDTHS[held] if item.role == "grip" else WIDTHS.get(item.role, 2.0)
        return self._plotter.add_mesh(
            mesh, color=item.colour, line_width=width, lighting=False, reset_camera=False
        )

    def _solid(self, item: Item, mesh: Any) -> Iterable[Any]:  # noqa: ANN401 - pyvista has no types here
        """Draw the far side first, the near side second, where light passes through."""
        shine = {"specular": 0.5, "specular_power": 25} if item.role in METAL else {}
        for hidden in ("front", "back") if item.opacity < 1.0 else (None,):
            actor = self._plotter.add_mesh(
                mesh,
                color=item.colour,
                opacity=item.opacity,
                culling=hidden,
                reset_camera=False,
                **shine,
            )
            actor.prop.interpolation = "Phong"
            yield actor

    def _pressed(self, mesh: Any) -> Any:  # noqa: ANN401 - pyvista has no types here
        return self._plotter.add_mesh(
            mesh,
            scalars="MPa",
            cmap=self._table,
            show_scalar_bar=False,
            lighting=False,
            reset_camera=False,
        )

    def _rescale(self, scale: float | None) -> None:
        """Give the colours of pressure a new scale where it changes."""
        if scale == self._scale:
            return
        for name in [n for n, d in self._drawn.items() if d.item.values is not None]:
            self._drop(name)
        self._scale = scale
        self._table = None if scale is None else pressure_table(scale)
        self._on_scale(scale)


def _same(one: Item, other: Item) -> bool:
    """Whether two items look the same: a screw that stands still is not drawn anew."""
    return one is other or (
        _alike(one, other)
        and one.label == other.label
        and np.array_equal(one.points, other.points)
        and _equal(one.faces, other.faces)
        and _equal(one.values, other.values)
    )


def _equal(one: np.ndarray | None, other: np.ndarray | None) -> bool:
    return (one is None and other is None) or (
        one is not None and other is not None and np.array_equal(one, other)
    )


def _alike(one: Item, other: Item) -> bool:
    """Whether the actors of one item can show the other."""
    return (
        (one.role, one.colour, one.opacity) == (other.role, other.colour, other.opacity)
        and (one.faces is None) == (other.faces is None)
        and (one.values is None) == (other.values is None)
        and (len(one.points) == 1) == (len(other.points) == 1)
    )


def _thinned(mesh: Any) -> Any:  # noqa: ANN401 - pyvista has no types here
    """A large mesh with its vertices gathered in cells; None for a small one."""
    if mesh.n_cells < MANY_FACES:
        return None
    import pyvista as pv
    from vtkmodules.vtkFiltersCore import vtkQuadricClustering

    thin = vtkQuadricClustering()
    thin.SetNumberOfDivisions(COARSE_CELLS, COARSE_CELLS, COARSE_CELLS)
    thin.SetInputData(mesh)
    thin.Update()
    coarse: Any = pv.wrap(thin.GetOutput()).compute_normals(
        cell_normals=False, split_vertices=False, auto_orient_normals=False
    )
    return coarse
