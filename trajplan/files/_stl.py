"""Meshes out: binary STL."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trajplan.files._output import write_bytes_atomic

if TYPE_CHECKING:
    from pathlib import Path

    from trajplan.arrays import Floats

__all__ = ["write_stl"]

#: One triangle of a binary STL: normal, three corners, a spare number (common practice).
TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
#: The 80 bytes of free text at the head; they must not begin with "solid".
HEAD = b"written by trajplan, lengths in mm".ljust(80)


def write_stl(path: Path, triangles: Floats) -> None:
    """Write triangles as a binary STL, whole or not at all.

    Parameters
    ----------
    path : Path
        The file; its folder must exist.
    triangles : (f, 3, 3) float array, mm
        Corners of every face; written in single precision, as the format has it.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    rows = np.zeros(len(triangles), dtype=TRIANGLE)
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    rows["normal"] = normal / np.where(length > 0.0, length, 1.0)
    rows["corners"] = triangles
    count = np.array([len(triangles)], dtype="<u4")
    write_bytes_atomic(path, HEAD + count.tobytes() + rows.tobytes())
