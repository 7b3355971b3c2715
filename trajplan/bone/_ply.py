"""Reading PLY through trimesh, with the counts of the header held against what came.

Whole numbers that a file gives to its faces (label, region, object, material) become groups.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from trajplan.bone._merge import RawMesh
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from trajplan.arrays import Ints

__all__ = ["read_ply"]

#: A header longer than this is none; real ones take some hundred bytes.
MAX_HEADER = 65536
#: A face property with more values than this numbers the faces, and names no parts of a bone.
MAX_LABELS = 64
#: Face properties that are channels of a colour, by the convention of the format.
COLOURS = frozenset({"red", "green", "blue", "alpha"})
#: Names of the list of vertices of a face; exporters use either.
CORNERS = ("vertex_indices", "vertex_index")


def read_ply(path: Path) -> RawMesh:
    """Read a PLY file, ASCII or binary; polygons become triangles.

    Parameters
    ----------
    path : Path
        A file that exists.

    Returns
    -------
    RawMesh
        With a group for each value of each face property of whole numbers that has at most
        64 values, named such as "label=2".

    Raises
    ------
    MeshError
        If the file is no PLY, is damaged, or ends early.
    """
    counts = _element_counts(path)
    from trimesh.exchange.ply import load_ply

    try:
        with path.open("rb") as file, np.errstate(invalid="ignore"):
            loaded = load_ply(file, fix_texture=False, skip_materials=True)
        vertices = np.asarray(loaded.get("vertices", np.empty((0, 3))), dtype=np.float64)
        polygons, labels = _polygons_and_labels(loaded["metadata"]["_ply_raw"].get("face", {}))
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError) as error:
        raise _damaged(path, f"the PLY cannot be read ({error})") from error
    if len(vertices) != counts.get("vertex", 0) or len(polygons) < counts.get("face", 0):
        raise _damaged(
            path,
            f"its header promises {counts.get('vertex', 0)} vertices and "
            f"{counts.get('face', 0)} faces, but it holds {len(vertices)} and {len(polygons)}",
        )
    short = next((row for row, polygon in enumerate(polygons) if len(polygon) < 3), None)
    if short is not None:
        raise _damaged(path, f"face {short + 1} has fewer than three corners")
    faces, polygon = _triangles(polygons)
    return RawMesh(vertices, faces, _groups({name: row[polygon] for name, row in labels.items()}))


def _polygons_and_labels(element: Mapping[str, Any]) -> tuple[NDArray[Any], dict[str, Ints]]:
    """Corners of each polygon, and whole numbers that each one carries, by name."""
    data, types = element.get("data"), element.get("properties", {})
    corners = next((name for name in CORNERS if name in types), None)
    if data is None or corners is None:
        return np.empty((0, 3)), {}
    # a list comes as (count, items) from a binary file, as its items from text
    binary = isinstance(data, np.ndarray)
    polygons = np.asarray(data[corners]["f1"] if binary else data[corners])
    labels = {
        name: np.asarray(data[name], dtype=np.int64)
        for name, kind in types.items()
        if name not in COLOURS and "," not in kind and np.dtype(kind).kind in "iu"
    }
    return polygons, labels


def _triangles(polygons: NDArray[Any]) -> tuple[Ints, Ints]:
    """Fan of triangles from the first corner of each polygon, and the polygon of each."""
    sizes = np.fromiter(map(len, polygons), dtype=np.int64, count=len(polygons))
    faces, of_polygon = [np.empty((0, 3), dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    for size in np.unique(sizes):
        rows = np.flatnonzero(sizes == size)
        corners = np.stack(list(polygons[rows])) if polygons.ndim == 1 else polygons[rows]
        for last in range(2, size):
            faces.append(corners[:, [0, last - 1, last]])
            of_polygon.append(rows)
    order = np.argsort(np.concatenate(of_polygon), kind="stable")
    return np.concatenate(faces)[order].astype(np.int64), np.concatenate(of_polygon)[order]


def _groups(labels: Mapping[str, Ints]) -> dict[str, Ints]:
    """Faces of each value of each label."""
    groups: dict[str, Ints] = {}
    for name, label in labels.items():
        values = np.unique(label)
        if len(values) <= MAX_LABELS:
            groups |= {f"{name}={value}": np.flatnonzero(label == value) for value in values}
    return groups


def _element_counts(path: Path) -> dict[str, int]:
    with path.open("rb") as file:
        head = file.read(MAX_HEADER)
    header, end, _ = head.partition(b"end_header")
    if not head.startswith(b"ply") or not end:
        raise MeshError(
            "it does not begin with a PLY header",
            remedy="give the file the ending of its true format, or export it again as PLY",
            file=path,
        )
    counts = {
        name.decode(): int(count)
        for name, count in re.findall(rb"(?m)^\s*element\s+(\w+)\s+(\d+)\s*$", header)
    }
    if b"ascii" in header:
        _refuse_missing_lines(path, counts)
    return counts


def _refuse_missing_lines(path: Path, counts: dict[str, int]) -> None:
    """Count the lines of an ASCII body, because a missing face would pass unseen."""
    body = path.read_bytes().partition(b"end_header")[2]
    lines = sum(1 for line in body.splitlines() if line.strip())
    if lines < sum(counts.values()):
        raise _damaged(path, f"its header promises {sum(counts.values())} rows, it has {lines}")


def _damaged(path: Path, found: str) -> MeshError:
    return MeshError(found, remedy="the file is damaged; export or copy it again", file=path)
