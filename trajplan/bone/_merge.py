"""From raw corners and faces to a checked `Surface`: merge, range, finiteness, units."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from trajplan.arrays import freeze
from trajplan.bone._types import Surface
from trajplan.errors import MeshError
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trajplan.arrays import Floats, Ints
    from trajplan.units import Unit

__all__ = ["RawMesh", "build_surface", "merge_equal", "mm_per"]

#: No coordinate of a bone lies ten kilometres out; beyond it the bytes are garbage, and
#: float64 could no longer keep the 1e-9 mm that crossings are computed to.
MAX_COORDINATE = 1e7


@dataclass(frozen=True, slots=True, eq=False)
class RawMesh:
    """Numbers as one file holds them, before any check."""

    vertices: Floats  # (v, 3) in the file's own unit
    faces: Ints  # (f, 3)
    groups: Mapping[str, Ints] = field(default_factory=dict)  # name -> faces
    merged: int = 0  # copies of a vertex that the reader has merged already
    distinct: bool = False  # the reader knows that no two vertices are equal


def build_surface(raw: RawMesh, *, unit: Unit, name: str, sha256: str, file: str) -> Surface:
    """Check a raw mesh, scale it to mm, and make vertices that are equal one.

    Parameters
    ----------
    raw : RawMesh
        Vertices, faces and groups as read.
    unit : {"mm", "cm", "m", "inch"}
        Unit of the coordinates.
    name, sha256 : str
        Carried into the surface.
    file : str
        What an error calls the mesh: a path, or the label of a mesh in memory.

    Returns
    -------
    Surface

    Raises
    ------
    MeshError
        If there is no face, a face names a vertex that is not there, or a coordinate is
        not finite or absurdly large.
    """
    _refuse_no_faces(raw, file)
    _refuse_bad_rows(raw, file)
    vertices, faces = _in_mm(raw, unit, file), raw.faces
    if not raw.distinct:
        vertices, row = merge_equal(vertices)
        faces = row[faces]
    freeze(vertices, faces, *raw.groups.values())
    return Surface(
        vertices=vertices,
        faces=faces,
        groups=MappingProxyType(dict(raw.groups)),
        name=name,
        sha256=sha256,
        merged=raw.merged + len(raw.vertices) - len(vertices),
        step=_step(raw) * mm_per(unit),
    )


def _step(raw: RawMesh) -> float:
    """Greatest distance between neighbouring numbers that the file can hold, in its own unit.

    Zero where some number is no single-precision one: then the file holds more digits.
    """
    single = raw.vertices.astype(np.float32)
    if not (single == raw.vertices).all():
        return 0.0
    return float(np.spacing(np.abs(single).max(initial=0.0)))


def mm_per(unit: str) -> float:
    """Millimetres in a unit.

    Parameters
    ----------
    unit : str
        One of the keys of `trajplan.units.MM_PER_UNIT`.

    Returns
    -------
    float

    Raises
    ------
    MeshError
        If the unit is none of them.
    """
    if unit not in MM_PER_UNIT:
        raise MeshError(
            f"the unit {unit!r} is not known", remedy=f"use one of {', '.join(MM_PER_UNIT)}"
        )
    return MM_PER_UNIT[unit]


def merge_equal(points: Floats) -> tuple[Floats, Ints]:
    """Distinct points in order of first appearance, and the row of each given point.

    Parameters
    ----------
    points : (n, 3) float array
        Points. Only equal numbers are equal: no tolerance, and -0.0 is 0.0.

    Returns
    -------
    distinct : (k, 3) float array
        The points, each once.
    row : (n,) int array
        ``distinct[row]`` equals ``points``.
    """
    order = np.lexsort(points.T)
    fresh = np.ones(len(points), dtype=bool)
    ordered = points[order]
    fresh[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    if fresh.all():
        return points, np.arange(len(points))
    # lexsort is stable, so the first of each run is also the first in the file
    first = order[fresh]
    rank = np.empty(len(first), dtype=np.int64)
    by_appearance = np.argsort(first)
    rank[by_appearance] = np.arange(len(first))
    row = np.empty(len(points), dtype=np.int64)
    row[order] = rank[np.cumsum(fresh) - 1]
    return points[first[by_appearance]], row


def _in_mm(raw: RawMesh, unit: Unit, file: str) -> Floats:
    with np.errstate(over="ignore", invalid="ignore"):
        vertices: Floats = raw.vertices * mm_per(unit) + 0.0  # adding 0.0 turns -0.0 into 0.0
    sane = (np.abs(vertices) <= MAX_COORDINATE).all(axis=1)  # False for NaN too
    if sane.all():
        return vertices
    bad = int(np.flatnonzero(~sane)[0])
    value = next(x for x in raw.vertices[bad] if not abs(x) * mm_per(unit) <= MAX_COORDINATE)
    users = np.flatnonzero((raw.faces == bad).any(axis=1))
    place = f"vertex {bad + 1}" if len(users) == 0 else f"face {users[0] + 1}"
    found = "is not a finite number" if not np.isfinite(value) else "is far too large for a bone"
    raise MeshError(
        f"the coordinate {value:g} {found}",
        remedy="export the mesh again from the program that made it",
        file=file,
        where=place,
    )


def _refuse_no_faces(raw: RawMesh, file: str) -> None:
    if len(raw.faces) == 0:
        raise MeshError(
            "the mesh has no faces",
            remedy="export the bone as a surface of triangles, not as points or curves",
            file=file,
        )


def _refuse_bad_rows(raw: RawMesh, file: str) -> None:
    count = len(raw.vertices)
    bad = ((raw.faces < 0) | (raw.faces >= count)).any(axis=1)
    if bad.any():
        face = int(np.flatnonzero(bad)[0])
        raise MeshError(
            f"it names a vertex that is not there (the mesh has {count} vertices)",
            remedy="export the mesh again from the program that made it",
            file=file,
            where=f"face {face + 1}",
        )
