"""Reading PLY through trimesh, with the counts of the header held against what came."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from trajplan.bone._merge import RawMesh
from trajplan.errors import MeshError

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["read_ply"]

#: A header longer than this is none; real ones take some hundred bytes.
MAX_HEADER = 65536


def read_ply(path: Path) -> RawMesh:
    """Read a PLY file, ASCII or binary; polygons become triangles.

    Parameters
    ----------
    path : Path
        A file that exists.

    Returns
    -------
    RawMesh

    Raises
    ------
    MeshError
        If the file is no PLY, is damaged, or ends early.
    """
    counts = _element_counts(path)
    from trimesh.exchange.ply import load_ply

    try:
        with path.open("rb") as file:
            loaded = load_ply(file, fix_texture=False, skip_materials=True)
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError) as error:
        raise _damaged(path, f"the PLY cannot be read ({error})") from error
    vertices = np.asarray(loaded.get("vertices", np.empty((0, 3))), dtype=np.float64)
    faces = loaded.get("faces")
    if faces is None:
        faces = np.empty((0, 3))
    if len(vertices) != counts.get("vertex", 0) or len(faces) < counts.get("face", 0):
        raise _damaged(
            path,
            f"its header promises {counts.get('vertex', 0)} vertices and "
            f"{counts.get('face', 0)} faces, but it holds {len(vertices)} and {len(faces)}",
        )
    return RawMesh(vertices, np.asarray(faces, dtype=np.int64).reshape(-1, 3))


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
