"""The scene as data for the turntable of a report: small, and drawn without any library."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.show._items.palette import KEY, WORDS
from trajplan.show._items.pressure import pressure_scale
from trajplan.show._report.pressure import pressure_tints
from trajplan.show._report.views import (
    down_the_axis,
    plate_directions,
    standard_directions,
    stretch,
)
from trajplan.show._words.places import side_text
from trajplan.show._words.sides import arms

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from trajplan.arrays import Floats, Ints, Vec3s
    from trajplan.files import PlanFile
    from trajplan.show._items.item import Item
    from trajplan.show._report.lying import Path
    from trajplan.show._report.views import Direction

__all__ = ["FACES", "turntable_model"]

#: Triangles of one surface that a browser turns smoothly without a graphics card.
FACES = 20_000
#: Steps of a coordinate across an item: a 500 mm bone comes out to 0.008 mm.
STEPS = 65535
#: Degrees between neighbouring triangles from which on an edge is drawn sharp.
SHARP = 40.0
#: Items of these roles belong to a screw and are switched together.
SCREW = ("head", "shank", "thread", "washer", "axis")
LAYERS = {**dict.fromkeys(SCREW, "screws"), "outline": "fracture"}


def turntable_model(
    items: Sequence[Item], plan: PlanFile, paths: Mapping[str, Path] | None = None
) -> dict[str, Any]:
    """Pack a scene for the script of a report.

    Parameters
    ----------
    items : sequence of Item
        As from `plan_scene`.
    plan : PlanFile
        The plan.
    paths : mapping of str to Path, optional
        By the name of each fragment that was reduced: how it came from where it lies.

    Returns
    -------
    dict
        What JSON can write: meshes and lines with colours and layers, labels, views, the
        letters of the axes. Arrays are base64 of little-endian numbers. Where contact pressure
        is known, each triangle has the colour that it has in the viewer.

    Notes
    -----
    Surfaces of more than `FACES` triangles are simplified (quadric edge collapse) for the
    screen; no number of a report is taken from them.
    """
    bone = np.vstack([item.points for item in items if item.role == "bone"])
    near = stretch(plan)
    whole = np.vstack([item.points for item in items])
    shapes = [item for item in items if item.role not in WORDS]
    layers = _layers(shapes)
    highest = pressure_scale(items)
    return {
        "meshes": [
            _mesh(item, layers[item.name], highest)
            | {"path": paths[item.name].data(item) if paths and item.name in paths else None}
            for item in shapes
            if item.faces is not None
        ],
        "lines": [_line(item, layers[item.name]) for item in shapes if item.faces is None],
        "labels": [
            {"text": item.label, "at": _row(item.points[0]), "from": _row(item.points[-1])}
            for item in items
            if item.role in WORDS
        ],
        "layers": list(dict.fromkeys(layers.values())),
        "views": list(_views(plan, bone)),
        "axes": [
            {"word": word, "way": _row(way, 6)} for word, way in arms(plan.frame, plan.bearings)
        ],
        "side": side_text(plan),
        "centre": _row(_middle(near if len(near) else whole)),
        "half": float(np.ptp(near, axis=0).max()) / 2.0 if len(near) else _half(whole),
        "whole": {"centre": _row(_middle(whole)), "half": _half(whole)},
    }


def _layers(items: Sequence[Item]) -> dict[str, str]:
    """What each item is switched on and off with: fragments one by one, the rest by role."""
    several = sum(item.role == "bone" for item in items) > 1
    return {
        item.name: item.name
        if several and item.role == "bone"
        else LAYERS.get(item.role) or KEY.get(item.role, item.role)
        for item in items
    }


def _mesh(item: Item, layer: str, highest: float | None) -> dict[str, Any]:
    values = item.values
    tints = None if values is None or highest is None else pressure_tints(values, highest)
    points, normals, faces = _shaded(item) if tints is None else _unshaded(item)
    low = points.min(axis=0)
    step = np.maximum(np.ptp(points, axis=0), 1e-6) / STEPS
    wide = len(points) > STEPS
    return {
        "layer": layer,
        "colour": _colour(item),
        "opacity": item.opacity
        if tints is None
        else 1.0,  # blended, the colours were not the key's
        "low": _row(low),
        "step": _row(step, 12),
        "points": _base64(((points - low) / step).round(), "<u2"),
        "normals": _base64((normals * 127).round(), "<i1"),
        "wide": wide,
        "faces": _base64(faces, "<u4" if wide else "<u2"),
        "tints": None if tints is None else _base64(tints, "<u1"),
    }


def _unshaded(item: Item) -> tuple[Vec3s, Vec3s, Ints]:
    """Triangles as they are, for each has a value; their colours are not shaded."""
    assert item.faces is not None
    return item.points, np.zeros_like(item.points), item.faces


def _shaded(item: Item) -> tuple[Vec3s, Vec3s, Ints]:
    """Points with normals, simplified where there are many triangles, split at sharp edges."""
    import pyvista as pv

    mesh = pv.PolyData.from_regular_faces(item.points, item.faces)
    if mesh.n_cells > FACES:
        mesh = mesh.clean().decimate(1.0 - FACES / mesh.n_cells)
    mesh = mesh.compute_normals(
        cell_normals=False, split_vertices=True, feature_angle=SHARP, consistent_normals=False
    )
    return np.asarray(mesh.points), np.asarray(mesh["Normals"]), mesh.regular_faces


def _line(item: Item, layer: str) -> dict[str, Any]:
    return {
        "layer": layer,
        "colour": _colour(item),
        "points": [_row(point) for point in item.points],
    }


def _views(plan: PlanFile, bone: Vec3s) -> Iterator[dict[str, Any]]:
    for side in standard_directions(plan.frame, bone, plan.screws):
        yield _view(side)
    for plate in plan.plates:
        yield _view(plate_directions(plate)[0])
    for screw in plan.screws:
        if screw.entry is not None:
            yield {**_view(down_the_axis(screw, bone)), "name": f"down {screw.id}"}


def _view(side: Direction) -> dict[str, Any]:
    return {"name": side.name, "toward": _row(side.toward, 6), "up": _row(side.up, 6)}


def _middle(points: Vec3s) -> Floats:
    middle: Floats = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return middle


def _half(points: Vec3s) -> float:
    """Half the height of a picture that holds the points from every side, mm."""
    return float(np.linalg.norm(points - _middle(points), axis=1).max().round(3))


def _colour(item: Item) -> list[int]:
    return [int(item.colour[i : i + 2], 16) for i in (1, 3, 5)]


def _row(values: Floats, digits: int = 4) -> list[float]:
    return [round(float(value), digits) for value in values]


def _base64(values: np.ndarray, kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode()
